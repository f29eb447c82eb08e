package ocr

import (
	"math"

	"gatefold/sheetmodel"
)

// What is left of a fold crosses a box like a stroke of pale pencil, and where most of the fold is too faint for fold.go nobody
// has taken it out. A stroke of the pencil ends where its writer lifts it; a fold, or a line drawn down a whole column, goes on
// on both sides of the box.
const (
	throughStraight = 0.3  // mm, root mean square: a mark that wanders farther from its middle line is no straight line
	throughClear    = 0.3  // mm from the box to where its own printed line can't be taken for the mark's
	throughLong     = 1.5  // mm of paper that are looked at on either side
	throughReach    = 4.0  // mm from the box, in which these must lie: print may be in the way
	throughBeside   = 1.1  // mm beside the line: the paper that it is held against
	throughShare    = 0.35 // of the mark's own darkness, from which the line goes on
	throughLeast    = 6    // px that must be seen on either side
)

// goesThrough reports whether ink in a box is one straight line that goes on beyond the box on both sides. own are its pieces.
func (m *inkMap) goesThrough(own []piece, box sheetmodel.Rect) bool {
	cx, cy, dx, dy, ok := m.straight(own, box)
	if !ok {
		return false
	}
	x0, y0, x1, y1 := float64(box.X)*inkPxPerMM, float64(box.Y)*inkPxPerMM, float64(box.X+box.W)*inkPxPerMM, float64(box.Y+box.H)*inkPxPerMM
	// How far it is from the ink's middle to where the line leaves the box.
	ends := func(dx, dy float64) float64 {
		t := math.Inf(1)
		for _, s := range [...][3]float64{{cx, dx, x0}, {cx, dx, x1}, {cy, dy, y0}, {cy, dy, y1}} {
			if k := (s[2] - s[0]) / s[1]; s[1] != 0 && k > 0 {
				t = math.Min(t, k)
			}
		}
		return t
	}
	on, back := ends(dx, dy), ends(-dx, -dy)
	if math.IsInf(on, 0) || math.IsInf(back, 0) {
		return false
	}
	inside, n := m.darker(cx, cy, dx, dy, -back, on, math.Inf(1))
	if n < throughLeast || inside <= 0 {
		return false
	}
	for _, side := range [...]struct{ dx, dy, from float64 }{{dx, dy, on}, {-dx, -dy, back}} {
		from := side.from + throughClear*inkPxPerMM
		beyond, seen := m.darker(cx, cy, side.dx, side.dy, from, side.from+throughReach*inkPxPerMM, throughLong*inkPxPerMM)
		if seen < throughLeast || beyond < throughShare*inside {
			return false
		}
	}
	return true
}

// straight returns the middle of the ink in a box, px, and which way it runs, a unit long; ok is false if it is no straight line.
func (m *inkMap) straight(own []piece, box sheetmodel.Rect) (cx, cy, dx, dy float64, ok bool) {
	x0, y0, x1, y1 := pxSpan(box, m.w, m.h)
	var n, xx, xy, yy float64
	each := func(do func(x, y float64)) {
		for _, p := range own {
			for _, i := range p.px {
				if x, y := i%m.w, i/m.w; x >= x0 && x < x1 && y >= y0 && y < y1 {
					do(float64(x), float64(y))
				}
			}
		}
	}
	each(func(x, y float64) { n, cx, cy = n+1, cx+x, cy+y })
	if n == 0 {
		return 0, 0, 0, 0, false
	}
	cx, cy = cx/n, cy/n
	each(func(x, y float64) { xx, xy, yy = xx+(x-cx)*(x-cx), xy+(x-cx)*(y-cy), yy+(y-cy)*(y-cy) })
	dy, dx = math.Sincos(math.Atan2(2*xy, xx-yy) / 2)
	across := xx*dy*dy - 2*xy*dx*dy + yy*dx*dx
	return cx, cy, dx, dy, math.Sqrt(across/n) <= throughStraight*inkPxPerMM
}

// darker returns by how much, in thousandths, the map is darker along a line than on both sides of it, from one place on the line
// to another, px from cx, cy, over at most most px of it, and over how many px. What print hides is left out.
func (m *inkMap) darker(cx, cy, dx, dy, from, to, most float64) (by float64, n int) {
	at := func(t, o float64) (v float64, seen bool) {
		x, y := int(math.Round(cx+t*dx-o*dy)), int(math.Round(cy+t*dy+o*dx))
		if x < 0 || y < 0 || x >= m.w || y >= m.h || m.print[y*m.w+x] || m.plain[y*m.w+x] > printNone {
			return 0, false
		}
		return float64(m.dark[y*m.w+x]), true
	}
	const beside = throughBeside * inkPxPerMM
	for t := from; t <= to && float64(n) < most; t++ {
		v, ok1 := at(t, 0)
		left, ok2 := at(t, -beside)
		right, ok3 := at(t, beside)
		if ok1 && ok2 && ok3 {
			by, n = by+v-(left+right)/2, n+1
		}
	}
	return by / math.Max(1, float64(n)), n
}
