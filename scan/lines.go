package scan

import (
	"image"
	"math"
)

// A patch whose print holds the paper both ways may fit well by half of it: where two lines cross, one that lies right is
// enough, and along it the walk slides, onto a shadow's edge or onto bare paper. So of each way it is asked whether the
// lines that hold it are there:
//
//	blank --points of lines that go on straight--> in the photo darker than the paper on both sides of them?
//
// An edge between light and shade is darker than one side of it only.

const (
	besideLine = 3    // px of the blank form from a line's middle to the paper beside it: 0.6 mm, clear of a blurred line
	barelyInk  = 0.4  // of a line's ink, what lies beside it has less
	goesOn     = 0.8  // of a line's ink, that it has as far on along itself
	leastInk   = 0.1  // of a line
	everyPoint = 2    // point of a line is looked at
	leastLine  = 6    // points looked at, from which a way is asked: 2.4 mm
	everyPx    = 4    // px of a patch is looked at for how dark its print is
	leastDark  = 1.0  // grey levels that print counts as darker, at least
	lineShown  = 0.25 // of the darkness that a line should have: lines that are there have 0.5 and more, others none
)

// line is what of a patch's lines runs one way.
type line struct {
	points [][2]float32 // mm from the patch's centre; nil: too few to tell
	ink    float64      // by how much more they have than either side, in the patch's normal measure
}

// linesOf returns the patch's lines that run down, which hold the paper across, and those that run across.
func linesOf(b *blank, p *patch) (lines [2]line) {
	window := patchWindow(b, p.center)
	cx, cy := patchCenter(p.center)
	var n, sum, square float64
	for i := range p.fine {
		s := &p.fine[i]
		ink := b.inkAt(cx+int(math.Round(float64(s.dx)*blankPxPerMM)), cy+int(math.Round(float64(s.dy)*blankPxPerMM)))
		n, sum, square = n+1, sum+ink, square+ink*ink
	}
	sd := math.Sqrt(square/n - sum/n*sum/n)
	for axis, across := range lineSides {
		l := &lines[axis]
		n := 0
		for y := window.Min.Y; y < window.Max.Y; y++ {
			for x := window.Min.X; x < window.Max.X; x++ {
				more, ok := b.onLine(x, y, across)
				if !ok {
					continue
				}
				if n++; n%everyPoint == 0 {
					l.points = append(l.points, [2]float32{float32(x-cx) / blankPxPerMM, float32(y-cy) / blankPxPerMM})
					l.ink += more / sd
				}
			}
		}
		if len(l.points) < leastLine {
			*l = line{} // too short to tell
			continue
		}
		l.ink /= float64(len(l.points))
	}
	return lines
}

// onLine reports whether a px of the blank form is in the middle of a line that goes on straight, and by how much more ink it
// has than either side of the line. across leads over the line.
func (b *blank) onLine(x, y int, across image.Point) (more float64, ok bool) {
	ink := b.inkAt(x, y)
	if ink < leastInk || !b.nearAt(x, y) || ink < b.inkAt(x-across.X, y-across.Y) || ink <= b.inkAt(x+across.X, y+across.Y) {
		return 0, false
	}
	by, on := across.Mul(besideLine), image.Pt(across.Y, across.X).Mul(besideLine)
	beside := max(b.inkAt(x-by.X, y-by.Y), b.inkAt(x+by.X, y+by.Y))
	if beside > barelyInk*ink || min(b.inkAt(x-on.X, y-on.Y), b.inkAt(x+on.X, y+on.Y)) < goesOn*ink {
		return 0, false
	}
	return ink - beside, true
}

// lined counts the px of a window that are in the middle of a line, down or across.
func (b *blank) lined(window image.Rectangle) int {
	n := 0
	for _, across := range lineSides {
		for y := window.Min.Y; y < window.Max.Y; y++ {
			for x := window.Min.X; x < window.Max.X; x++ {
				if _, ok := b.onLine(x, y, across); ok {
					n++
				}
			}
		}
	}
	return n
}

// lineSides lead from lines that run down, and across, to the paper beside them.
var lineSides = [2]image.Point{{X: 1}, {Y: 1}}

// shown returns how dark the lines of the way that is shown worst are in the photo, as a share of what they should be
// where the patch was found, dx, dy from where t puts it; 1 if it has none.
func (p *patch) shown(v *view, t *tangent, dx, dy float64) float64 {
	if p.lines[0].points == nil && p.lines[1].points == nil {
		return 1
	}
	var n, g, ink, both float64
	for i := 0; i < len(p.fine); i += everyPx {
		s := &p.fine[i]
		grey := v.grey(t.at(float64(s.dx)+dx, float64(s.dy)+dy))
		n, g, ink, both = n+1, g+grey, ink+float64(s.ink), both+grey*float64(s.ink)
	}
	dark := g/n*ink/n - both/n // grey levels to a measure of ink, whose mean square is 1
	least := 1.0
	for axis, across := range lineSides {
		l := &p.lines[axis]
		if l.points == nil {
			continue
		}
		bu, bv := float64(across.X*besideLine)/blankPxPerMM, float64(across.Y*besideLine)/blankPxPerMM
		var on, left, right float64
		for _, at := range l.points {
			u, w := float64(at[0])+dx, float64(at[1])+dy
			on += v.grey(t.at(u, w))
			left += v.grey(t.at(u-bu, w-bv))
			right += v.grey(t.at(u+bu, w+bv))
		}
		least = min(least, (min(left, right)-on)/(float64(len(l.points))*l.ink*max(dark, leastDark)))
	}
	return least
}
