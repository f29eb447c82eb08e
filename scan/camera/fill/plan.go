package fill

import (
	"math/rand/v2"

	"gatefold/scan/camera/hand"
)

// Spoil is something that goes wrong while a field or a row is written.
type Spoil string

// The ways to spoil writing. A spoiled field may be doubtful, but must never be clear and wrong.
const (
	Clean       Spoil = ""
	Struck      Spoil = "struck"       // a line through the writing
	Overwritten Spoil = "overwritten"  // another digit first, the right one over it
	Question    Spoil = "question"     // a question mark behind it
	RubbedOut   Spoil = "rubbed-out"   // the trace of another digit below it
	OutsideBox  Spoil = "outside-box"  // shifted over the edge of its box
	Dash        Spoil = "dash"         // a dash instead
	CrossedMark Spoil = "crossed-mark" // a tick that was struck out again
)

// Row is one row as the judge means it. Empty texts stay empty.
type Row struct {
	Number    int    `json:"number"`
	Bib       string `json:"bib,omitempty"`
	BibAgain  string `json:"bib_again,omitempty"`
	Code      string `json:"code,omitempty"` // value of a tick box
	Gate      string `json:"gate,omitempty"`
	Panel     string `json:"panel,omitempty"` // letter
	Rerun     bool   `json:"rerun,omitempty"`
	BibSpoil  Spoil  `json:"bib_spoil,omitempty"`
	GateSpoil Spoil  `json:"gate_spoil,omitempty"`
	Struck    bool   `json:"struck,omitempty"` // the whole row is struck out
}

// Panel is one drawing panel with the bibs in its strip.
type Panel struct {
	Letter string   `json:"letter"`
	Bibs   []string `json:"bibs,omitempty"`
	Path   bool     `json:"path,omitempty"` // the path of a fault is drawn
	Spoil  Spoil    `json:"spoil,omitempty"`
}

// Plan is everything one judge writes on one card.
type Plan struct {
	Header map[string]string `json:"header,omitempty"` // by field name, e.g. header.gate-from
	Rows   []Row             `json:"rows,omitempty"`
	Panels []Panel           `json:"panels,omitempty"`
	// GatesSketched says that the judge drew the gates into every panel before the start.
	GatesSketched bool `json:"gates_sketched,omitempty"`
}

// Digits gives one writer's glyphs.
type Digits interface {
	// Digit returns a glyph of digit d, 0 to 9, in this writer's hand, and a number that names it.
	Digit(d int, rng *rand.Rand) (hand.Strokes, int)
}
