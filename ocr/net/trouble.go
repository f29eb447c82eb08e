package net

import (
	"fmt"

	"gatefold/ocr/crop"
	"gatefold/ocr/weights"
)

// What the ink of a comb is, as the trouble net tells it.
const (
	Plain       = iota // one number, nothing else
	Struck             // struck out
	Overwritten        // a digit written over another
	Question           // a question mark behind it
	RubbedOut          // a trace of another digit below it
	Outside            // beside its boxes
	Dash               // a dash instead
	Unlike             // a ring around it, a correction above it, letters, a line through it from elsewhere
	OnLine             // a stroke of it lies on a printed line
	Blank              // nothing
	Kinds
)

// KindProbs are the trouble net's claims by kind; they sum to 1.
type KindProbs [Kinds]float32

// Trouble is the trouble net, ready to run. Not safe for concurrent use.
type Trouble struct{ r reader }

// OpenTrouble loads the embedded trouble net for the gate card. The caller closes it. The weights are checked against
// their hash.
func OpenTrouble() (*Trouble, error) { return openTrouble("trouble.onnx", weights.TroubleFile) }

// OpenForms loads the embedded trouble net for cards of other makes, as OpenTrouble does the other.
func OpenForms() (*Trouble, error) { return openTrouble("forms.onnx", weights.FormsFile) }

func openTrouble(name string, file func() ([]byte, error)) (*Trouble, error) {
	b, err := file()
	if err != nil {
		return nil, err
	}
	r, err := newReader(name, b, crop.CombH, crop.CombW)
	if err != nil {
		return nil, err
	}
	return &Trouble{r: r}, nil
}

// Close gives OpenCV's memory back; the Trouble can't be used afterwards.
func (t *Trouble) Close() error { return t.r.close() }

// Look returns what the net claims of a comb. BenchmarkTrouble has the time it takes.
func (t *Trouble) Look(c *crop.Comb) (KindProbs, error) {
	var p KindProbs
	got, err := t.r.forward(c[:])
	if err != nil {
		return p, fmt.Errorf("trouble net: %w", err)
	}
	if len(got) != Kinds {
		return p, fmt.Errorf("trouble net: %d values, want %d; the weights are not for this program", len(got), Kinds)
	}
	copy(p[:], got)
	return p, nil
}
