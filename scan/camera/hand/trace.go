package hand

import (
	"math"
	"sort"
)

// inkShare is the share of a glyph's darkest value from which a pixel counts as ink. A little under a
// half: thin joins of 28 px glyphs are paler than the strokes they join.
const inkShare = 0.42

// speckPx is the area in glyph pixels under which a piece of ink beside larger ones is scanner dirt.
const speckPx = 1.0

// Trace finds the centre lines and widths of g.
//
// Any glyph with ink gives at least one line; an empty glyph gives none. Loops stay loops: the centre
// line has the same holes as the ink. Lines of width W reach as far as the ink did for a pen as wide as
// the glyph's median stroke. About 1 ms a glyph. Safe for concurrent use.
func Trace(g *Glyph) Strokes {
	lines, median := traceMask(g)
	if len(lines) == 0 {
		return Strokes{}
	}
	return unitFrame(lines, median)
}

// traceMask is Trace in pixels of the magnified mask, with the median width.
func traceMask(g *Glyph) ([]Line, float64) {
	grey := upsample(g)
	peak := float32(0)
	for _, v := range g.Pix {
		peak = max(peak, float32(v))
	}
	if peak == 0 {
		return nil, 0
	}
	full := make(mask, len(grey))
	for y := 1; y < maskSide-1; y++ {
		for x := 1; x < maskSide-1; x++ {
			full[y*maskSide+x] = grey[y*maskSide+x] > inkShare*peak
		}
	}
	full.dropSpecks()
	thick := full.distances()
	bones := append(mask(nil), full...)
	bones.thin()
	sk := newSkeleton(bones, thick)
	sk.contract()
	sk.prune()
	found := sk.lines()
	median := medianWidth(found)
	lines := make([]Line, len(found))
	for i, t := range found {
		lines[i] = t.reaching(full, median)
	}
	return lines, median
}

// dropSpecks clears pieces of ink under speckPx unless they are all there is.
func (m mask) dropSpecks() {
	seen := make([]bool, len(m))
	var small [][]int
	large := false
	for i, set := range m {
		if !set || seen[i] {
			continue
		}
		seen[i] = true
		piece := []int{i}
		for k := 0; k < len(piece); k++ {
			for _, o := range around {
				if j := piece[k] + o; m[j] && !seen[j] {
					seen[j] = true
					piece = append(piece, j)
				}
			}
		}
		if float64(len(piece)) < speckPx*up*up {
			small = append(small, piece)
		} else {
			large = true
		}
	}
	if !large {
		return
	}
	for _, piece := range small {
		for _, i := range piece {
			m[i] = false
		}
	}
}

// medianWidth is the median of W over all points, 1 mask pixel at least.
func medianWidth(lines []traced) float64 {
	var w []float64
	for _, l := range lines {
		for _, p := range l.Points {
			w = append(w, p.W)
		}
	}
	if len(w) == 0 {
		return up
	}
	sort.Float64s(w)
	return math.Max(1, w[len(w)/2])
}

// reaching returns l with each free end drawn out to where the ink ended, half a median pen short:
// thinning eats about half a width at an end.
func (t traced) reaching(ink mask, median float64) Line {
	p := t.Points
	if len(p) == 0 {
		return t.Line
	}
	if len(p) == 1 || (t.length() < 1 && t.freeHead) {
		// A dot: a short dab across the ink's middle.
		c := p[0]
		r := math.Max(0, c.W/2-0.5*median) + 0.5
		return Line{Points: []Point{{X: c.X - r, Y: c.Y, W: c.W}, {X: c.X + r, Y: c.Y, W: c.W}}}
	}
	out := make([]Point, 0, len(p)+2)
	if t.freeHead {
		out = append(out, tip(ink, p, median)...)
	}
	out = append(out, p...)
	if t.freeTail {
		out = append(out, tip(ink, reversed(p), median)...)
	}
	return Line{Points: out}
}

// tip marches from p[0] outwards until the ink ends; none when the line already reaches far enough.
func tip(ink mask, p []Point, median float64) []Point {
	// The direction over about one width: the last pixels of a thinned line are noisy.
	k := 0
	for k < len(p)-1 && dist(p[0], p[k]) < median {
		k++
	}
	dx, dy := p[0].X-p[k].X, p[0].Y-p[k].Y
	n := math.Hypot(dx, dy)
	if n == 0 {
		return nil
	}
	dx, dy = dx/n, dy/n
	far := 0.0
	for far < 3*median {
		x, y := int(math.Round(p[0].X+dx*(far+0.5))), int(math.Round(p[0].Y+dy*(far+0.5)))
		if x < 0 || y < 0 || x >= maskSide || y >= maskSide || !ink[y*maskSide+x] {
			break
		}
		far += 0.5
	}
	if more := far - 0.5*median; more > 0.5 {
		return []Point{{X: p[0].X + dx*more, Y: p[0].Y + dy*more, W: p[0].W}}
	}
	return nil
}

func reversed(p []Point) []Point {
	q := make([]Point, len(p))
	for i := range p {
		q[len(p)-1-i] = p[i]
	}
	return q
}

// unitFrame moves and scales lines in mask pixels to the frame of Strokes.
func unitFrame(lines []Line, median float64) Strokes {
	s := Strokes{Lines: lines, Pen: median}
	x0, y0, x1, y1 := s.bounds()
	if math.IsInf(x0, 0) {
		return Strokes{}
	}
	// The ink's box is half a pen larger on each side. A glyph is as high as it is wide at most in this
	// frame: flat ink (a lying dash) keeps its size against its pen.
	x0, y0, x1, y1 = x0-median/2, y0-median/2, x1+median/2, y1+median/2
	scale := 1 / math.Max(y1-y0, 0.3*(x1-x0))
	out := s.warped(scale, func(x, y float64) (float64, float64) { return (x - x0) * scale, (y - y0) * scale })
	out.Width = (x1 - x0) * scale
	return out
}
