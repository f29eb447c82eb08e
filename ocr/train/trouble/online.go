package trouble

import (
	"math"

	"gatefold/sheetmodel"
)

// A stroke along a printed line, mm.
const (
	lineNear   = 0.6  // to each side of the line's middle: what print and blur make one dark line of
	lineLong   = 2.4  // shorter ones are no digit
	lineHidden = 0.85 // of a stroke's ink there: it is hidden
	lineSeen   = 0.5  // less: it is not; between the two people would argue
	lineReach  = 2.0  // beside a comb is looked too: a stroke on its outer line
)

// share says how much of any stroke is hidden by an upright line of a comb.
type share byte

const (
	none share = iota
	some
	all
)

// stroke writes a 1 onto an upright line of a comb, or close to it.
func (w *writing) stroke(f sheetmodel.Field) {
	g, _ := w.digits.Digit(1, w.rng)
	k := w.rng.IntN(f.Boxes + 1)
	at := sheetmodel.SheetPoint{
		X: f.Rect.X + f.Rect.W*sheetmodel.MM(k)/sheetmodel.MM(f.Boxes) + sheetmodel.MM(0.2*w.rng.NormFloat64()),
		Y: f.Rect.Center().Y + w.between(-1, 1),
	}
	w.pen.DigitAt(w.ink, g, at, math.Min(w.pen.HeightMM*(0.85+0.3*w.rng.Float64()), 1.1*float64(f.Rect.H)), w.rng)
}

// hidden looks at the strokes as they were drawn, before they are photographed: at ink that hangs together, stands in the
// comb for the most part, and is as high as a digit.
func (w *writing) hidden(f sheetmodel.Field) share {
	const px = inkPxPerMM
	area := f.Rect.Grow(lineReach)
	x0, y0 := max(int(float64(area.X)*px)-w.ink.MinX, 0), max(int(float64(area.Y)*px)-w.ink.MinY, 0)
	x1, y1 := min(int(float64(area.X+area.W)*px)-w.ink.MinX, w.ink.W), min(int(float64(area.Y+area.H)*px)-w.ink.MinY, w.ink.H)
	wide := x1 - x0
	dark := func(x, y int) bool { return w.ink.Factor[(y+y0)*w.ink.W+x+x0] < 235 }
	nearLine := make([]bool, wide)
	for x := range nearLine {
		mm := sheetmodel.MM(float64(x+x0+w.ink.MinX)+0.5) / px
		at := float64((mm - f.Rect.X) / f.Rect.W * sheetmodel.MM(f.Boxes))
		k := math.Min(math.Max(math.Round(at), 0), float64(f.Boxes))
		nearLine[x] = math.Abs(at-k)*float64(f.Rect.W)/float64(f.Boxes) <= lineNear
	}
	seen := make([]bool, wide*max(y1-y0, 0))
	found := none
	for i := range seen {
		if seen[i] || !dark(i%wide, i/wide) {
			continue
		}
		seen[i] = true
		piece := []int{i}
		onLine, inside, top, bottom := 0, 0, y1, 0
		for k := 0; k < len(piece); k++ {
			x, y := piece[k]%wide, piece[k]/wide
			top, bottom = min(top, y), max(bottom, y)
			if nearLine[x] {
				onLine++
			}
			if mm := sheetmodel.MM(y+y0+w.ink.MinY) / px; mm >= f.Rect.Y && mm < f.Rect.Y+f.Rect.H {
				inside++
			}
			// A pencil leaves gaps in the paper's grain.
			for v := max(y-2, 0); v <= min(y+2, y1-y0-1); v++ {
				for u := max(x-2, 0); u <= min(x+2, wide-1); u++ {
					if j := v*wide + u; !seen[j] && dark(u, v) {
						seen[j] = true
						piece = append(piece, j)
					}
				}
			}
		}
		if float64(bottom-top) < lineLong*px || 2*inside < len(piece) {
			continue
		}
		switch {
		case float64(onLine) >= lineHidden*float64(len(piece)):
			return all
		case float64(onLine) >= lineSeen*float64(len(piece)):
			found = some
		}
	}
	return found
}
