package cells

import (
	"math"
	"math/rand/v2"

	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// scene is one box on paper while it is being drawn; the box's middle is the origin of the mm.
type scene struct {
	paper  *sheet
	ink    *hand.Ink
	box    sheetmodel.Rect
	writer *hand.Writer
	source *Source
	rng    *rand.Rand
}

// chance reports true in share of all cases.
func (s *scene) chance(share float64) bool { return s.rng.Float64() < share }

// between draws evenly from lo to hi.
func (s *scene) between(lo, hi float64) float64 { return lo + (hi-lo)*s.rng.Float64() }

// newScene draws a writer, a box size and what is printed.
func newScene(src *Source, c conditions, rng *rand.Rand) *scene {
	s := &scene{paper: newSheet(), source: src, rng: rng}
	s.writer = hand.DrawWriter(hand.Pens{
		PencilDarker:    [2]float64{c.pencil.lo, c.pencil.hi},
		BallpointDarker: [2]float64{c.ballpoint.lo, c.ballpoint.hi},
		BallpointShare:  c.ballpointShare,
	}, rng)
	sizes := [...][2]float64{{8, 10}, {7, 10}, {7.5, 9}, {8, 9}, {7, 9}, {6.5, 8.5}}
	size := sizes[rng.IntN(len(sizes))]
	if s.chance(0.3) {
		size = [2]float64{s.between(6.5, 9), s.between(8.5, 10.5)}
	}
	w, h := sheetmodel.MM(size[0]), sheetmodel.MM(size[1])
	s.box = sheetmodel.Rect{X: -w / 2, Y: -h / 2, W: w, H: h}
	s.ink = hand.NewInk(sheetmodel.Rect{X: -sheetW / 2, Y: -sheetH / 2, W: sheetW, H: sheetH}, drawPxPerMM)
	s.print()
	return s
}

// print draws the box's lines and what may stand beside it.
func (s *scene) print() {
	grain := float32(s.between(0, 0.012))
	for i := range s.paper.v {
		s.paper.v[i] -= grain * s.rng.Float32()
	}
	if s.chance(0.04) {
		return // a box without lines: pale print, or ruled by nothing
	}
	cover, width := s.between(0.08, 0.95), s.between(0.10, 0.35)
	if s.chance(0.4) {
		cover, width = s.between(0.15, 0.45), s.between(0.12, 0.25)
	}
	x0, y0 := float64(s.box.X), float64(s.box.Y)
	x1, y1 := x0+float64(s.box.W), y0+float64(s.box.H)
	left, right := s.chance(0.6), s.chance(0.6) // boxes of the same comb follow on these sides
	fromX, toX := x0, x1
	if left {
		fromX = -sheetW
	}
	if right {
		toX = sheetW
	}
	s.line(fromX, y0, toX, y0, width, cover)
	s.line(fromX, y1, toX, y1, width, cover)
	inner, innerCover := width, cover
	top := y0
	switch {
	case s.chance(0.25): // lighter lines between the boxes of a comb
		innerCover *= s.between(0.4, 0.9)
		inner *= s.between(0.5, 1)
	case s.chance(0.1): // short guides instead of whole lines
		top = y0 + s.between(0.3, 0.8)*(y1-y0)
	}
	for _, side := range []struct {
		x    float64
		comb bool
	}{{x0, left}, {x1, right}} {
		if side.comb {
			s.line(side.x, top, side.x, y1, inner, innerCover)
		} else {
			s.line(side.x, y0, side.x, y1, width, cover)
		}
	}
	// The rows above and below, with or without a gap.
	gap := 0.0
	if s.chance(0.6) {
		gap = s.between(0.5, 3)
	}
	if s.chance(0.7) {
		s.line(fromX, y0-gap, toX, y0-gap, width, cover)
		s.line(x0, y0-gap-10, x0, y0-gap, inner, innerCover)
		s.line(x1, y0-gap-10, x1, y0-gap, inner, innerCover)
	}
	if s.chance(0.7) {
		s.line(fromX, y1+gap, toX, y1+gap, width, cover)
		s.line(x0, y1+gap, x0, y1+gap+10, inner, innerCover)
		s.line(x1, y1+gap, x1, y1+gap+10, inner, innerCover)
	}
	if !left && s.chance(0.4) {
		s.printedText(x0 - s.between(0.5, 2))
	}
	if !right && s.chance(0.2) {
		s.printedText(x1 + s.between(0.8, 3))
	}
}

// printedText draws a few strokes that look like a row's number, beside the box at x.
func (s *scene) printedText(x float64) {
	size, cover := s.between(1.5, 3), s.between(0.3, 0.95)
	y := s.between(-3, 3)
	for range 2 + s.rng.IntN(4) {
		s.line(x-s.rng.Float64()*0.6*size, y+s.rng.Float64()*size, x-s.rng.Float64()*0.6*size, y+s.rng.Float64()*size, 0.12*size, cover)
	}
}

// line prints a straight line from one point to another, width mm wide; cover is its ink, 0 to 1.
func (s *scene) line(x0, y0, x1, y1, width, cover float64) {
	px := s.paper.pxPerMM
	cx, cy := float64(s.paper.w)/2, float64(s.paper.h)/2
	r := width/2*px + 1
	ax, ay, bx, by := x0*px+cx, y0*px+cy, x1*px+cx, y1*px+cy
	ix0, ix1 := max(0, int(math.Min(ax, bx)-r)), min(s.paper.w-1, int(math.Max(ax, bx)+r))
	iy0, iy1 := max(0, int(math.Min(ay, by)-r)), min(s.paper.h-1, int(math.Max(ay, by)+r))
	dx, dy := bx-ax, by-ay
	n := math.Max(1e-9, dx*dx+dy*dy)
	for y := iy0; y <= iy1; y++ {
		for x := ix0; x <= ix1; x++ {
			ex, ey := float64(x)+0.5-ax, float64(y)+0.5-ay
			t := math.Max(0, math.Min(1, (ex*dx+ey*dy)/n))
			d := math.Hypot(ex-t*dx, ey-t*dy)
			if c := cover * math.Max(0, math.Min(1, width/2*px-d+0.5)); c > 0 {
				p := &s.paper.v[y*s.paper.w+x]
				*p = float32(math.Min(float64(*p), 1-c))
			}
		}
	}
}

// neighbours writes into the boxes around; none may reach far into this one.
func (s *scene) neighbours(side, above float64) {
	w, h := s.box.W, s.box.H
	for _, n := range []struct {
		share  float64
		dx, dy sheetmodel.MM
	}{{side, -w, 0}, {side, w, 0}, {above, 0, -h - 1}, {above, 0, h + 1}} {
		if s.chance(n.share) {
			box := s.box
			box.X, box.Y = box.X+n.dx, box.Y+n.dy
			s.writer.Digit(s.ink, s.source.any(s.rng).strokes, box, s.rng)
		}
	}
}

// rubbedOut leaves the trace of a digit that was erased, smeared.
func (s *scene) rubbedOut() {
	trace := hand.NewInk(sheetmodel.Rect{X: -sheetW / 2, Y: -sheetH / 2, W: sheetW, H: sheetH}, drawPxPerMM)
	w := *s.writer
	w.Darker *= s.between(0.05, 0.2)
	w.WidthMM *= s.between(1, 1.6)
	w.Digit(trace, s.source.any(s.rng).strokes, s.box, s.rng)
	s.lay(trace, 1)
	if s.chance(0.5) {
		s.smudge(s.between(0.02, 0.06), s.between(1, 4))
	}
}

// showThrough lays the back's writing, mirrored and faint.
func (s *scene) showThrough() {
	back := hand.NewInk(sheetmodel.Rect{X: -sheetW / 2, Y: -sheetH / 2, W: sheetW, H: sheetH}, drawPxPerMM)
	w := *s.writer
	w.Darker = math.Min(0.9, w.Darker) * s.between(0.05, 0.2)
	for range 1 + s.rng.IntN(2) {
		at := sheetmodel.SheetPoint{X: sheetmodel.MM(s.between(-6, 6)), Y: sheetmodel.MM(s.between(-6, 6))}
		w.DigitAt(back, mirrored(s.source.any(s.rng).strokes), at, s.between(3, 8), s.rng)
	}
	s.lay(back, 1)
}

// lay darkens the paper by ink that is under the writing.
func (s *scene) lay(k *hand.Ink, share float32) {
	for i, f := range k.Factor {
		if f != 255 {
			s.paper.v[i] *= 1 - share*(1-float32(f)/255)
		}
	}
}

// smudge is a soft grey patch, as a thumb or a rubber leaves it.
func (s *scene) smudge(depth, r float64) {
	x0, y0, turn, flat := s.between(-5, 5), s.between(-6, 6), s.rng.Float64()*math.Pi, s.between(0.3, 1)
	c, n := math.Cos(turn), math.Sin(turn)
	for y := range s.paper.h {
		my := (float64(y)+0.5)/drawPxPerMM - sheetH/2 - y0
		for x := range s.paper.w {
			mx := (float64(x)+0.5)/drawPxPerMM - sheetW/2 - x0
			u, v := (mx*c+my*n)/r, (my*c-mx*n)/(r*flat)
			if d := u*u + v*v; d < 4 {
				s.paper.v[y*s.paper.w+x] *= float32(1 - depth*math.Exp(-d*1.5))
			}
		}
	}
}

// dirt puts specks on the paper.
func (s *scene) dirt() {
	for range 1 + s.rng.IntN(5) {
		x, y, r := s.between(-6, 6), s.between(-7, 7), s.between(0.05, 0.35)
		s.line(x, y, x+s.between(-1, 1)*r, y+s.between(-1, 1)*r, 2*r, s.between(0.05, 0.7))
	}
}

// mirrored is g seen from the paper's other side.
func mirrored(g hand.Strokes) hand.Strokes {
	return remade(g, func(p hand.Point) hand.Point { p.X = g.Width - p.X; return p })
}

// remade is a copy of g with f applied to its points.
func remade(g hand.Strokes, f func(hand.Point) hand.Point) hand.Strokes {
	out := g
	out.Lines = make([]hand.Line, len(g.Lines))
	for i, l := range g.Lines {
		pts := make([]hand.Point, len(l.Points))
		for j, p := range l.Points {
			pts[j] = f(p)
		}
		out.Lines[i].Points = pts
	}
	return out
}
