package crop

import (
	"math"

	"gatefold/sheetmodel"
)

// Size of what the trouble net sees, px.
const (
	CombW = 160
	CombH = 72
)

// combBoxPx is the width of one box in a Comb, whatever it is on the paper. Three boxes leave one box's width on
// each side: a question mark behind a full comb, a bracket in front of it.
const combBoxPx = 32

// Comb is a comb with what stands around it as the trouble net sees it: darkness row by row, see Tone, the comb's
// middle in the picture's. Nothing is left out: trouble is often what reaches in from outside.
type Comb [CombW * CombH]byte

// TakeComb cuts a comb of boxes boxes out of p, with its surroundings.
//
// comb lies on the page as straightened; it may be off by about half a millimetre.
func TakeComb(p Page, comb sheetmodel.Rect, boxes int) Comb {
	s := combBoxPx * float64(max(boxes, 1)) / math.Max(1, float64(comb.W))
	r := p.window(comb, CombW, CombH, s)
	paper, _ := paperLevel(r)
	d := paper.darkness(r)
	var out Comb
	for i, v := range d.v {
		out[i] = Tone(v)
	}
	return out
}
