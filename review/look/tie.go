package look

import "gatefold/sheetmodel"

// Tied says what a second writing of a row's bib lends to it. The reader works it out from the ink of
// both writings together; it is kept beside the readings of the card's two sides.
//
// Panel and Entry name the strip entry; an empty Panel means the second box of the same row.
type Tied struct {
	Row   int    `json:"row"`
	Panel string `json:"panel,omitempty"`
	Entry int    `json:"entry,omitempty"`
	// Text is what both writings show together. It counts only if Clear.
	Text string `json:"text,omitempty"`
	// Second is the second writing's own text, as far as it was read; never a look by itself.
	Second string `json:"second,omitempty"`
	// Clear: the paper ties the two writings, neither has a doubt of its own that stays, and their
	// joint certainty is above its threshold.
	Clear     bool                 `json:"clear"`
	Certainty sheetmodel.Certainty `json:"certainty"` // of both together
	// Differs: the paper ties them, but another bib stands there. Both are doubtful, and only the
	// judge knows which is meant.
	Differs bool   `json:"differs,omitempty"`
	Detail  string `json:"detail,omitempty"` // why it isn't clear
}

// Kind returns the look that the second writing is.
func (t Tied) Kind() sheetmodel.LookKind {
	if t.Panel == "" {
		return sheetmodel.LookSecondBox
	}
	return sheetmodel.LookStrip
}
