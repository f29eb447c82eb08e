package sheetmodel

import "strings"

// SideName names one side of a card.
type SideName string

// The sides of a card.
const (
	Front SideName = "front"
	Back  SideName = "back"
)

// Style says what a judge writes down.
type Style string

// The two styles of card in the trade.
const (
	FaultOnly  Style = "fault-only"  // a row only when something happened
	EveryRacer Style = "every-racer" // a mark for each bib that passes
)

// Kind says how a field is filled, and so how it is read.
type Kind string

// The field kinds.
const (
	Comb    Kind = "comb"    // one character a box
	Cell    Kind = "cell"    // free handwriting in a ruled cell
	Tick    Kind = "tick"    // one box, marked or not
	Choice  Kind = "choice"  // ring or tick one of several printed words
	Printed Kind = "printed" // printed by us
	Text    Kind = "text"    // name, date, phone
	Drawing Kind = "drawing" // ink kept as a picture
)

// Kinds lists all field kinds, for walks over them.
var Kinds = []Kind{Comb, Cell, Tick, Choice, Printed, Text, Drawing}

// Part is the last word of a field's name: what the field is for.
type Part string

// Parts of rows, header and back.
const (
	PartBib       Part = "bib"
	PartBibAgain  Part = "bib-again"
	PartCode      Part = "code"
	PartCodeOther Part = "code-other"
	PartGate      Part = "gate"
	PartPanel     Part = "panel"
	PartRerun     Part = "rerun"
	PartPassed    Part = "passed" // a mark for a racer who came by, on a card with a row for every racer
	PartJudge     Part = "judge"
	PartPhone     Part = "phone"
	PartDate      Part = "date" // the day, where a sheet asks for it
	PartGroup     Part = "group"
	PartCourse    Part = "course"
	PartRun       Part = "run"
	PartCard      Part = "card" // the card's number, where a person writes it
	PartGateFrom  Part = "gate-from"
	PartGateTo    Part = "gate-to"
	PartGateMore  Part = "gate-more"
	PartRowCount  Part = "row-count"
	PartCardOf    Part = "card-of"    // which card of this judge
	PartCardTotal Part = "card-total" // of how many
	PartRemarkRow Part = "remark-row" // row number beside a remark
	PartRemark    Part = "remark"
	PartDrawing   Part = "drawing"
	PartLetters   Part = "letters" // the printed letters of the identity
	PartUnnamed   Part = "unnamed" // of a draft: nobody has said yet what the field is for
)

// Parts lists all parts that a field may be for.
var Parts = []Part{
	PartBib, PartBibAgain, PartCode, PartCodeOther, PartGate, PartPanel, PartRerun, PartPassed, PartJudge, PartPhone, PartDate,
	PartGroup, PartCourse, PartRun, PartCard, PartGateFrom, PartGateTo, PartGateMore, PartRowCount, PartCardOf, PartCardTotal,
	PartRemarkRow, PartRemark, PartDrawing, PartLetters, PartUnnamed,
}

// PrintedBib returns the bib that stands in print in f, as its one option says, and whether there is one.
func (f Field) PrintedBib() (string, bool) {
	if f.Kind != Printed || f.Part != PartBib || len(f.Options) != 1 {
		return "", false
	}
	return f.Options[0].Value, true
}

// Option is one printed word of a choice, with the box a person ticks or the word a person rings.
type Option struct {
	Value string `json:"value" yaml:"value"`
	Label string `json:"label" yaml:"label"`
	Rect  Rect   `json:"rect_mm" yaml:"rect"`
}

// Field is one place of a side that a person fills.
//
// Rect is the writing area in sheet mm. For a comb it is the union of its boxes, which are of equal
// width, side by side. Rings says that the options of a choice are words to ring, else boxes to tick.
type Field struct {
	Name    string   `json:"name" yaml:"name"`
	Part    Part     `json:"part" yaml:"part"`
	Kind    Kind     `json:"kind" yaml:"kind"`
	Rect    Rect     `json:"rect_mm" yaml:"rect"`
	Row     int      `json:"row,omitempty" yaml:"row,omitempty"`     // 1 is the top row; 0: not in a row
	Panel   string   `json:"panel,omitempty" yaml:"panel,omitempty"` // letter of the drawing panel it belongs to
	Entry   int      `json:"entry,omitempty" yaml:"entry,omitempty"` // place in a panel's strip, from 1
	Boxes   int      `json:"boxes,omitempty" yaml:"boxes,omitempty"` // of a comb
	Options []Option `json:"options,omitempty" yaml:"options,omitempty"`
	Rings   bool     `json:"rings,omitempty" yaml:"rings,omitempty"`
	Grammar Grammar  `json:"grammar" yaml:"grammar"`
}

// Mark is a printed registration mark: a square black frame with a 4 × 4 pattern, see marks.go.
type Mark struct {
	ID   int  `json:"id" yaml:"id"`
	Rect Rect `json:"rect_mm" yaml:"rect"` // outer edge of the black frame
}

// Align says which end of a text lies at its anchor.
type Align string

// Where a text's anchor is.
const (
	AlignLeft   Align = "left"
	AlignCenter Align = "center"
	AlignRight  Align = "right"
)

// PrintItem is one thing printed that nobody fills: exactly one of Text, Line, Box or Poly is used.
type PrintItem struct {
	Text   string       `json:"text,omitempty" yaml:"text,omitempty"` // Placeholders are replaced for each card
	At     SheetPoint   `json:"at" yaml:"at,omitempty"`               // baseline anchor of Text
	Size   MM           `json:"size,omitempty" yaml:"size,omitempty"` // height of a capital letter
	Bold   bool         `json:"bold,omitempty" yaml:"bold,omitempty"`
	Italic bool         `json:"italic,omitempty" yaml:"italic,omitempty"`
	Align  Align        `json:"align,omitempty" yaml:"align,omitempty"`
	Room   MM           `json:"room,omitempty" yaml:"room,omitempty"` // where positive, wider text is printed smaller to fit
	Turn   float64      `json:"turn,omitempty" yaml:"turn,omitempty"` // degrees clockwise about At
	Line   []SheetPoint `json:"line,omitempty" yaml:"line,omitempty"` // open polyline
	Poly   []SheetPoint `json:"poly,omitempty" yaml:"poly,omitempty"` // filled polygon
	Box    *Rect        `json:"box,omitempty" yaml:"box,omitempty"`   // outline, or filled with Fill
	Width  MM           `json:"width,omitempty" yaml:"width,omitempty"`
	Grey   float64      `json:"grey,omitempty" yaml:"grey,omitempty"` // 0 black to 1 white, of lines and text
	Fill   float64      `json:"fill,omitempty" yaml:"fill,omitempty"` // ink coverage of a Box, 0 none to 1 black
}

// Placeholders are the words in the texts of a PrintItem that stand for what differs from card to card.
var Placeholders = []string{
	"{race}", "{date}", "{discipline}", "{course}", "{run}", "{card}",
	"{run-note}",                 // what a judge must know about this run's card; often empty
	"{twin}",                     // course, run, card and side in words
	"{letters-1}", "{letters-2}", // first and second half of the identity's 20 letters
}

// ForCard reports whether the item's text differs from card to card.
func (p PrintItem) ForCard() bool {
	for _, w := range Placeholders {
		if strings.Contains(p.Text, w) {
			return true
		}
	}
	return false
}

// Side is one side of the card as it is held to be read: W × H mm, origin top left.
type Side struct {
	Name     SideName    `json:"name" yaml:"name"`
	W        MM          `json:"w_mm" yaml:"w"`
	H        MM          `json:"h_mm" yaml:"h"`
	Marks    []Mark      `json:"marks" yaml:"marks"`
	Identity []Rect      `json:"identity" yaml:"identity"` // where the machine-readable identity is printed
	Fields   []Field     `json:"fields" yaml:"fields"`
	Print    []PrintItem `json:"print,omitempty" yaml:"print,omitempty"`
}

// Layout is the geometry of one printed card, all of it, as it was printed for one race.
type Layout struct {
	Format  int    `json:"format" yaml:"format"`
	Name    string `json:"name" yaml:"name"`
	Version int    `json:"version" yaml:"version"`
	Style   Style  `json:"style" yaml:"style"`
	Paper   string `json:"paper" yaml:"paper"` // "a5" or "half-letter"
	Spare   bool   `json:"spare,omitempty" yaml:"spare,omitempty"`
	Sides   []Side `json:"sides" yaml:"sides"`
}

// Side returns the side with the given name, or nil.
func (l *Layout) Side(name SideName) *Side {
	for i := range l.Sides {
		if l.Sides[i].Name == name {
			return &l.Sides[i]
		}
	}
	return nil
}

// Field returns the field with the given name, or nil.
func (s *Side) Field(name string) *Field {
	for i := range s.Fields {
		if s.Fields[i].Name == name {
			return &s.Fields[i]
		}
	}
	return nil
}

// RowFields returns the fields of one row, in the order of the layout.
func (s *Side) RowFields(row int) []Field {
	var fields []Field
	for _, f := range s.Fields {
		if f.Row == row && row > 0 {
			fields = append(fields, f)
		}
	}
	return fields
}

// Rows returns the number of the last row.
func (s *Side) Rows() int {
	n := 0
	for _, f := range s.Fields {
		n = max(n, f.Row)
	}
	return n
}
