package sheetmodel

// State says what may be done with a Reading.
type State string

// The three states of a Reading. A clear text may be used as one look; a doubtful one waits for a person.
const (
	Clear    State = "clear"
	Doubtful State = "doubtful"
	Empty    State = "empty"
)

// Doubt is a reason why a Reading is not clear, in a fixed word and in a sentence.
type Doubt struct {
	Kind   DoubtKind `json:"kind"`
	Detail string    `json:"detail"`
}

// DoubtKind is the fixed word of a Doubt.
type DoubtKind string

// Reasons for doubt that lie in the ink, then those from outside it.
const (
	DoubtLowCertainty DoubtKind = "low-certainty"    // below the frozen threshold
	DoubtReaders      DoubtKind = "readers-disagree" // two readers of different make see different text
	DoubtStruckOut    DoubtKind = "struck-out"
	DoubtOverwritten  DoubtKind = "overwritten"
	DoubtOutsideBox   DoubtKind = "outside-box"
	DoubtOnPrint      DoubtKind = "on-print" // a stroke may lie along a printed line, which hides it
	DoubtQuestionMark DoubtKind = "question-mark"
	DoubtDitto        DoubtKind = "ditto"          // as above: which bib, its judge must say
	DoubtNotInGrammar DoubtKind = "not-in-grammar" // ink that is no bib, gate or code: a dash, a name
	DoubtTwoMarks     DoubtKind = "two-marks"      // more than one option of a choice is marked
	DoubtNoPath       DoubtKind = "no-path"        // a drawing that shows the gates and, as it seems, no path
	DoubtFaintInk     DoubtKind = "faint-ink"
	DoubtHidden       DoubtKind = "hidden"      // part of the field is covered or outside the picture
	DoubtPhoto        DoubtKind = "photo"       // the photo is not sharp enough for this field
	DoubtWritings     DoubtKind = "writings"    // two writings of one bib differ
	DoubtTie          DoubtKind = "tie"         // the paper doesn't tie the two writings together
	DoubtNotInList    DoubtKind = "not-in-list" // outside evidence from here on
	DoubtNotStarted   DoubtKind = "did-not-start"
	DoubtOtherCourse  DoubtKind = "other-course"
	DoubtOutside      DoubtKind = "outside-evidence"
)

// Rival is another text the same ink may be, with the reader's claim for it.
type Rival struct {
	Text string `json:"text"`
	Prob Prob   `json:"prob"`
}

// Reading is what a reader makes of one field.
type Reading struct {
	Field     string    `json:"field"` // field name in the layout
	Side      SideName  `json:"side"`
	Text      string    `json:"text"`
	Rivals    []Rival   `json:"rivals,omitempty"` // best first, without Text itself
	Certainty Certainty `json:"certainty"`
	State     State     `json:"state"`
	Doubts    []Doubt   `json:"doubts,omitempty"`
	Region    Rect      `json:"region_mm"` // where the ink is, sheet mm
}

// Doubt lowers a clear Reading to doubtful and records why. It never changes the text, and no method raises.
func (r *Reading) Doubt(kind DoubtKind, detail string) {
	if r.State == Clear {
		r.State = Doubtful
	}
	r.Doubts = append(r.Doubts, Doubt{Kind: kind, Detail: detail})
}

// HasDoubt reports whether kind is among the reasons.
func (r Reading) HasDoubt(kind DoubtKind) bool {
	for _, d := range r.Doubts {
		if d.Kind == kind {
			return true
		}
	}
	return false
}

// OnlyCovered reports whether a Reading is nothing but a place that can't be seen: no ink shows, and something lies on it or it is
// outside the picture.
func (r Reading) OnlyCovered() bool {
	return r.State == Doubtful && r.Text == "" && len(r.Rivals) == 0 && len(r.Doubts) == 1 && r.HasDoubt(DoubtHidden)
}

// Row is one row of a card: six Readings and what the ink of the whole row says.
type Row struct {
	Number    int     `json:"number"` // 1 is the top row
	HasInk    bool    `json:"has_ink"`
	Struck    bool    `json:"struck"` // a line runs through the row: not a fault, but shown
	Bib       Reading `json:"bib"`
	BibAgain  Reading `json:"bib_again"`
	Code      Reading `json:"code"`
	CodeOther Reading `json:"code_other"` // free cell beside the code choices
	Gate      Reading `json:"gate"`
	Panel     Reading `json:"panel"`
	Rerun     Reading `json:"rerun"`
	// Passed is the mark for a racer who came by, and Printed the bib that the card has in print for this row.
	Passed  Reading `json:"passed,omitzero"`
	Printed string  `json:"printed,omitempty"`
}

// StripEntry is one bib written under a drawing panel.
type StripEntry struct {
	Panel string  `json:"panel"`
	Entry int     `json:"entry"` // counted from 1
	Bib   Reading `json:"bib"`
}

// SheetReading is all that was read on one side of one card.
type SheetReading struct {
	Side   SideName     `json:"side"`
	Reader string       `json:"reader"` // version of reader, weights and thresholds
	Header []Reading    `json:"header"`
	Rows   []Row        `json:"rows,omitempty"`
	Strips []StripEntry `json:"strips,omitempty"`
	Ink    []Reading    `json:"ink,omitempty"` // drawing and remark fields: empty or not, never transcribed
}

// Readings lists all Readings of the side that have a field, in the order of the sheet.
func (s SheetReading) Readings() []Reading {
	all := append([]Reading(nil), s.Header...)
	for _, row := range s.Rows {
		all = append(all, row.Bib, row.BibAgain, row.Code, row.CodeOther, row.Gate, row.Panel, row.Rerun, row.Passed)
	}
	for _, e := range s.Strips {
		all = append(all, e.Bib)
	}
	all = append(all, s.Ink...)
	present := all[:0]
	for _, one := range all {
		if one.Field != "" {
			present = append(present, one)
		}
	}
	return present
}

// Field returns the header Reading with the given field name, and whether there is one.
func (s SheetReading) Field(name string) (Reading, bool) {
	for _, r := range s.Header {
		if r.Field == name {
			return r, true
		}
	}
	return Reading{}, false
}
