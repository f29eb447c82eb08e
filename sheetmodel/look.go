package sheetmodel

import "time"

// LookKind says by what way a bib was seen.
type LookKind string

// The ways a bib is seen.
const (
	LookWriting    LookKind = "writing"       // the row, read
	LookSecondBox  LookKind = "second-box"    // the same bib once more in its row, read
	LookStrip      LookKind = "strip"         // the panel's strip, read and tied to the row
	LookReadBack   LookKind = "read-back"     // typed blind while the judge read the row aloud
	LookBlind      LookKind = "blind-entry"   // typed by a person who had not seen the machine's text
	LookJudgeAsked LookKind = "judge-asked"   // the judge, asked, named the bib unprompted
	LookPaper      LookKind = "paper-no-pict" // typed blind from the paper, no photo
)

// Look is one view of a bib.
type Look struct {
	Kind LookKind  `json:"kind"`
	Text string    `json:"text"`
	By   string    `json:"by"` // a person's name on this laptop, or the reader's version
	At   time.Time `json:"at"`
}

// Basis says on what ground a Reading was settled.
type Basis string

// The grounds of a Decision.
const (
	BasisOnPaper    Basis = "as-on-the-paper"
	BasisJudgeAsked Basis = "judge-asked"
	BasisSetAside   Basis = "set-aside"
	BasisNoWriting  Basis = "no-writing" // a person sees nothing written there
)

// Decision says who settled a Reading, when and on what basis. Decisions are never deleted or
// changed: a newer one replaces an older one and both stay. They hold bibs, not names of racers.
type Decision struct {
	ID       int64     `json:"id"`
	Reading  string    `json:"reading"` // key of the reading, see review/store
	Text     string    `json:"text"`    // what was typed; empty when set aside or where nothing is written
	Basis    Basis     `json:"basis"`
	Blind    bool      `json:"blind"` // typed before anything the machine read was shown
	ReadBack bool      `json:"read_back"`
	By       string    `json:"by"`
	At       time.Time `json:"at"`
	Note     string    `json:"note,omitempty"`
}

// BibState says how many looks a bib has.
type BibState string

// The states of a bib on its way to a call.
const (
	BibTwoLooks BibState = "two"
	BibOneLook  BibState = "one"
	BibWaiting  BibState = "waiting"   // no certain text yet
	BibSetAside BibState = "set-aside" // a person gave up on it, with a reason
)
