package crop

import (
	"math"

	"gatefold/sheetmodel"
)

// Size of what the cell net sees, px.
const (
	StripW = 160
	StripH = 48
)

const (
	stripPxPerMM = 4.0 // as a Cell; wider or higher fields are shown smaller, so that all of them fits
	stripRimMM   = 1.5 // around the field: its lines, and writing that leaves it a little
)

// Strip is a whole field as the cell net sees it: darkness row by row, see Tone, the field's middle in the
// picture's. Beyond 1.5 mm around the field it is clean paper: what stands there is another field's.
type Strip [StripW * StripH]byte

// TakeStrip cuts field out of p whole, not box by box.
//
// field lies on the page as straightened; it may be off by about half a millimetre. About 0.2 ms.
func TakeStrip(p Page, field sheetmodel.Rect) Strip {
	around := field.Grow(stripRimMM)
	s := stripScale(field)
	w := min(StripW, max(1, int(math.Round(float64(around.W)*s))))
	h := min(StripH, max(1, int(math.Round(float64(around.H)*s))))
	r := p.window(field, w, h, s)
	paper, _ := paperLevel(r)
	d := paper.darkness(r)
	var out Strip
	clean := Tone(0)
	for i := range out {
		out[i] = clean
	}
	x0, y0 := (StripW-w)/2, (StripH-h)/2
	for y := range h {
		for x := range w {
			out[(y0+y)*StripW+x0+x] = Tone(d.v[y*w+x])
		}
	}
	return out
}

// stripScale is at how many px to the mm a field is shown.
func stripScale(field sheetmodel.Rect) float64 {
	around := field.Grow(stripRimMM)
	return math.Min(stripPxPerMM, math.Min(StripW/math.Max(1, float64(around.W)), StripH/math.Max(1, float64(around.H))))
}
