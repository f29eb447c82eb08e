package ocr

import "gatefold/sheetmodel"

// Classes of a Dist beyond the digits 0 to 9.
const (
	ClassEmpty = 10 // nothing written in the box
	ClassOther = 11 // ink that is no digit: a letter, a dash, a scribble
	Classes    = 12
)

// Dist is a distribution over what one box may hold: the digits, empty, other. It sums to 1.
type Dist [Classes]float64

// Best returns the likeliest class.
func (d Dist) Best() int {
	best := 0
	for c := range d {
		if d[c] > d[best] {
			best = c
		}
	}
	return best
}

// Classifier looks at single boxes of a page, with two readers of different make.
//
// It serves one goroutine. Who opened it closes it.
type Classifier interface {
	// Classify looks at each box, given in sheet mm, and returns what each of the two readers makes of
	// it, in the order of boxes. pix is the 8-bit grey page, row by row without gaps, w wide; the
	// classifier leaves it unchanged.
	Classify(pix []byte, w int, pxPerMM float64, boxes []sheetmodel.Rect) (a, b []Dist, err error)
	// Weights returns the hash of the weights, which curves and thresholds are bound to.
	Weights() string
	Close() error
}
