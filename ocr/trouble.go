package ocr

import (
	"math"

	"gatefold/sheetmodel"
)

// writing is what the ink of one comb looks like before any digit is read.
type writing struct {
	boxes  []bool // box i holds a trace of ink
	region sheetmodel.Rect
	area   float64 // mm² of ink that belongs to the field
	peak   int16   // its darkest px, thousandths
	own    []piece // what stands in the comb, not what only reaches into it
	around []piece // all that is seen in it and around it
	doubts []sheetmodel.Doubt
}

func (w *writing) doubt(kind sheetmodel.DoubtKind, detail string) {
	for i, d := range w.doubts {
		if d.Kind == kind {
			if detail == reachesIn || detail == leavesAbove {
				w.doubts[i].Detail = detail // the graver reason
			}
			return
		}
	}
	w.doubts = append(w.doubts, sheetmodel.Doubt{Kind: kind, Detail: detail})
}

// When ink is trouble. Lengths are mm on the sheet; the numbers are those of ordinary writing by many
// hands on printed combs, see report.md.
const (
	lookAround    = 4.0  // ink is followed this far out of its comb
	strayOverMM   = 2.2  // a tail may leave the comb this far
	intruderMM2   = 0.5  // of a neighbour's ink inside the comb
	speckMM2      = 0.25 // less inside the whole comb is no writing
	straddleShare = 0.3  // of a narrow piece on each side of an inner line
	narrowBox     = 1.05 // boxes: a piece this narrow is one character
	strikeBoxes   = 1.6  // boxes: a 2 whose tail runs into the next digit stays below
	tangledRows   = 3.4  // strokes crossed on the way through, mean of the busiest quarter
	faintDark     = 75   // thousandths: pencil of 120 blurred over 0.3 mm leaves 60
)

// Why ink stands outside its boxes. Nobody but a person takes the first two back: a line or an arrow from elsewhere, and
// a correction written above.
const (
	reachesIn   = "ink from outside reaches into these boxes"
	leavesAbove = "the writing leaves its boxes at the top"
	besideBoxes = "the writing stands beside its boxes"
)

// examine looks at the ink in and around a comb. left and right are how far ink beside the comb may be
// followed: not into the next field.
func (m *inkMap) examine(f sheetmodel.Field) writing {
	w := writing{boxes: make([]bool, max(f.Boxes, 1))}
	comb := f.Rect
	boxW := comb.W / sheetmodel.MM(len(w.boxes))
	w.around = m.pieces(comb.Grow(lookAround))
	for _, p := range w.around {
		inside := m.within(p, comb)
		if inside == 0 {
			continue
		}
		if inside < 0.5*p.area {
			// Somebody else's ink: a neighbour's tail, an arrow, a line through the whole row.
			if inside >= intruderMM2 {
				w.doubt(sheetmodel.DoubtOutsideBox, reachesIn)
			}
			if inside >= speckMM2 {
				m.mark(&w, p, comb)
			}
			continue
		}
		m.mark(&w, p, comb)
		w.own = append(w.own, p)
		w.area += inside
		w.peak = max(w.peak, p.peak)
		if w.region.W == 0 {
			w.region = p.rect()
		} else {
			w.region = w.region.Union(p.rect())
		}
		m.examinePiece(&w, p, comb, boxW)
	}
	if w.area < speckMM2 && len(w.doubts) == 0 {
		return writing{boxes: make([]bool, len(w.boxes)), around: w.around}
	}
	if w.area > 0 && w.peak < faintDark {
		w.doubt(sheetmodel.DoubtFaintInk, "hardly darker than the paper")
	}
	return w
}

// mark notes which boxes a piece has ink in.
func (m *inkMap) mark(w *writing, p piece, comb sheetmodel.Rect) {
	for i := range w.boxes {
		if m.within(p, comb.Box(i, len(w.boxes))) > leastPieceMM2/2 {
			w.boxes[i] = true
		}
	}
}

func (m *inkMap) examinePiece(w *writing, p piece, comb sheetmodel.Rect, boxW sheetmodel.MM) {
	r := p.rect()
	if comb.Y-r.Y > strayOverMM {
		w.doubt(sheetmodel.DoubtOutsideBox, leavesAbove)
	}
	if max(comb.X-r.X, r.X+r.W-comb.X-comb.W, r.Y+r.H-comb.Y-comb.H) > strayOverMM {
		w.doubt(sheetmodel.DoubtOutsideBox, "the writing leaves its boxes")
	}
	if float64(r.W) >= strikeBoxes*float64(boxW) && m.strikeLength(p) >= strikeBoxes*float64(boxW) {
		w.doubt(sheetmodel.DoubtStruckOut, "a line runs through the writing")
	}
	if m.tangled(p) {
		w.doubt(sheetmodel.DoubtOverwritten, "written over or scribbled out")
	}
	if float64(r.W) > narrowBox*float64(boxW) {
		return
	}
	for i := range len(w.boxes) - 1 {
		a, b := m.within(p, comb.Box(i, len(w.boxes))), m.within(p, comb.Box(i+1, len(w.boxes)))
		if a > straddleShare*p.area && b > straddleShare*p.area {
			w.doubt(sheetmodel.DoubtOutsideBox, "a character stands on the line between two boxes")
		}
	}
}

// strikeLength returns the length in mm of the longest nearly level line of ink in the piece. Printed
// lines that it crosses don't break it, small skips don't either.
func (m *inkMap) strikeLength(p piece) float64 {
	if p.x1-p.x0 < int(3*inkPxPerMM) {
		return 0
	}
	ink := map[int]bool{}
	for _, i := range p.px {
		ink[i] = true
	}
	best := 0
	for slope := -0.36; slope <= 0.361; slope += 0.04 {
		reach := int(math.Ceil(math.Abs(slope) * float64(p.x1-p.x0)))
		for y := p.y0 - reach; y < p.y1+reach; y++ {
			best = max(best, m.runAlong(p, ink, y, slope))
		}
	}
	return float64(best) / inkPxPerMM
}

// runAlong follows the line through (x0, y) and returns its longest run of ink, in px.
func (m *inkMap) runAlong(p piece, ink map[int]bool, y int, slope float64) int {
	const skipPx = 2
	best, start, last := 0, -1, -1
	for x := p.x0; x < p.x1; x++ {
		v := y + int(math.Round(slope*float64(x-p.x0)))
		if v < 0 || v >= m.h {
			continue
		}
		i := v*m.w + x
		switch {
		case ink[i]:
			if start < 0 {
				start = x
			}
			last = x
			best = max(best, x-start+1)
		case start >= 0 && m.print[i] && x-last <= bridgePx:
		case start >= 0 && x-last > skipPx:
			start = -1
		}
	}
	return best
}

// tangled reports whether more strokes cross the piece than a digit has: an 8 is crossed twice from side
// to side and three times from top to bottom. It looks at the busiest quarter of rows and of columns.
func (m *inkMap) tangled(p piece) bool {
	w, h := p.x1-p.x0, p.y1-p.y0
	grid := make([]bool, w*h)
	for _, i := range p.px {
		grid[(i/m.w-p.y0)*w+i%m.w-p.x0] = true
	}
	rows, cols := make([]float64, h), make([]float64, w)
	for y := range h {
		for x := range w {
			if grid[y*w+x] && (x == 0 || !grid[y*w+x-1]) {
				rows[y]++
			}
			if grid[y*w+x] && (y == 0 || !grid[(y-1)*w+x]) {
				cols[x]++
			}
		}
	}
	digits := math.Max(1, math.Round(float64(w)/inkPxPerMM/6)) // a piece may be several digits that touch
	return busiest(rows)/digits > tangledRows-0.4 || busiest(cols) > tangledRows+0.4
}

// busiest is the mean of the largest quarter.
func busiest(v []float64) float64 {
	n := max(len(v)/4, 1)
	sum := 0.0
	for range n {
		best := 0
		for i := range v {
			if v[i] > v[best] {
				best = i
			}
		}
		sum += v[best]
		v[best] = -1
	}
	return sum / float64(n)
}
