package cells

import (
	"math"
	"math/rand/v2"

	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// other draws a box that is written in, but holds no one digit.
func (s *Source) other(c conditions, rng *rand.Rand) drawn {
	sc := newScene(s, c, rng)
	sc.under(0.1)
	sc.neighbours(0.4, 0.3)
	kind := Letter
	switch u := rng.Float64(); {
	case u < 0.27 && len(s.letters) > 0:
		sc.write(s.letters[rng.IntN(len(s.letters))], true)
	case u < 0.54:
		kind = Sign
		sc.sign()
	case u < 0.78:
		kind = Struck
		sc.struck()
	case u < 0.87:
		kind = Over
		sc.overwritten()
	case u < 0.96:
		kind = Two
		sc.two()
	default:
		kind = Between
		sc.betweenBoxes()
	}
	return drawn{sc, Other, kind, c}
}

// sign writes a dash, a question mark or another sign.
func (s *scene) sign() {
	pen := 0.12
	var g hand.Strokes
	r := func(v float64) float64 { return v + 0.05*s.rng.NormFloat64() }
	p := func(x, y float64) hand.Point { return hand.Point{X: r(x), Y: r(y), W: pen} }
	switch s.rng.IntN(9) {
	case 0: // dash
		g.Lines = []hand.Line{curve(p(0, 0.5), p(0.9, 0.5), 0.08*s.rng.NormFloat64())}
	case 1: // question mark
		g.Lines = []hand.Line{smooth(p(0.1, 0.25), p(0.2, 0.02), p(0.55, 0.02), p(0.62, 0.28), p(0.36, 0.48), p(0.33, 0.72)),
			curve(p(0.33, 0.93), hand.Point{X: 0.36, Y: 0.95, W: pen}, 0)}
	case 2: // tick
		g.Lines = []hand.Line{{Points: []hand.Point{p(0, 0.55), p(0.28, 1), p(0.9, 0)}}}
	case 3: // cross
		g.Lines = []hand.Line{curve(p(0, 0), p(0.9, 1), 0.05*s.rng.NormFloat64()), curve(p(0.9, 0), p(0, 1), 0.05*s.rng.NormFloat64())}
	case 4: // ditto
		g.Lines = []hand.Line{curve(p(0.2, 0), p(0.1, 0.45), 0), curve(p(0.6, 0), p(0.5, 0.45), 0)}
	case 5: // plus, or a star
		g.Lines = []hand.Line{curve(p(0.45, 0), p(0.45, 1), 0), curve(p(0, 0.5), p(0.9, 0.5), 0)}
	case 6: // wave
		g.Lines = []hand.Line{smooth(p(0, 0.5), p(0.25, 0.25), p(0.5, 0.5), p(0.75, 0.75), p(1, 0.45))}
	case 7: // long stroke through the box, from corner to corner
		g.Lines = []hand.Line{curve(p(1.1, -0.1), p(0, 1.1), 0.05*s.rng.NormFloat64())}
		if s.chance(0.5) {
			g = mirrored(g)
		}
	default: // scribble
		var pts []hand.Point
		n := 7 + s.rng.IntN(12)
		for i := range n {
			pts = append(pts, hand.Point{X: s.rng.Float64(), Y: 0.5 + 0.5*math.Sin(float64(i)*3)*s.rng.Float64(), W: pen})
		}
		g.Lines = []hand.Line{smooth(pts...)}
	}
	g.Pen = pen
	g = framed(g)
	h := s.between(0.35, 0.75) * float64(s.box.H)
	if g.Width*h > 1.1*float64(s.box.W) {
		h = 1.1 * float64(s.box.W) / g.Width
	}
	s.writer.DigitAt(s.ink, g, s.moved(s.between(-1, 1), s.between(-1, 1)), h, s.rng)
}

// struck writes a digit and strikes it out.
func (s *scene) struck() {
	at := s.writer.Digit(s.ink, s.source.any(s.rng).strokes, s.box, s.rng)
	x0, y0, w, h := float64(at.X), float64(at.Y), float64(at.W), float64(at.H)
	pen := s.writer.WidthMM
	over := func() float64 { return s.between(0.1, 0.9) }
	p := func(fx, fy float64) hand.Point {
		return hand.Point{X: x0 + fx*w + 0.2*s.rng.NormFloat64(), Y: y0 + fy*h + 0.2*s.rng.NormFloat64(), W: pen}
	}
	var lines []hand.Line
	out := math.Max(0.3, 0.8/math.Max(0.5, w)) // how far strokes reach beyond the digit, in its widths
	switch s.rng.IntN(5) {
	case 0: // one level line
		y := s.between(0.3, 0.7)
		lines = []hand.Line{curve(p(-out, y), p(1+out, y), 0.03*s.rng.NormFloat64())}
	case 1: // two
		y := s.between(0.25, 0.5)
		lines = []hand.Line{curve(p(-out, y), p(1+out, y), 0), curve(p(-out, y+0.2), p(1+out, y+0.2), 0)}
	case 2: // a slanting line
		lines = []hand.Line{curve(p(-out, 1), p(1+out, 0), 0.03*s.rng.NormFloat64())}
	case 3: // a cross
		lines = []hand.Line{curve(p(-out/2, 1.05), p(1+out/2, -0.05), 0), curve(p(-out/2, -0.05), p(1+out/2, 1.05), 0)}
	default: // a zigzag
		var pts []hand.Point
		for i := range 6 + s.rng.IntN(10) {
			pts = append(pts, p(float64(i&1)*(1+out)-out/2, over()))
		}
		lines = []hand.Line{smooth(pts...)}
	}
	s.stroke(lines)
}

// stroke draws lines given in mm.
func (s *scene) stroke(lines []hand.Line) {
	g := hand.Strokes{Lines: lines, Pen: s.writer.WidthMM}
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, l := range lines {
		for _, p := range l.Points {
			x0, x1 = math.Min(x0, p.X), math.Max(x1, p.X)
			y0, y1 = math.Min(y0, p.Y), math.Max(y1, p.Y)
		}
	}
	h := math.Max(y1-y0, 0.3)
	g = remade(g, func(p hand.Point) hand.Point { return hand.Point{X: (p.X - x0) / h, Y: (p.Y - y0) / h, W: p.W / h} })
	g.Width, g.Pen = (x1-x0)/h, g.Pen/h
	at := sheetmodel.SheetPoint{X: sheetmodel.MM((x0 + x1) / 2), Y: sheetmodel.MM((y0 + y1) / 2)}
	s.writer.DigitAt(s.ink, g, at, h, s.rng)
}

// overwritten writes a digit and another over it, pressed harder.
func (s *scene) overwritten() {
	first := s.source.any(s.rng)
	second := s.source.any(s.rng)
	// A 1 vanishes under or in another digit: what is left may be that digit.
	for second.glyph.Label == first.glyph.Label || first.glyph.Label == 1 || second.glyph.Label == 1 {
		first, second = s.source.any(s.rng), s.source.any(s.rng)
	}
	s.writer.Digit(s.ink, first.strokes, s.box, s.rng)
	firm := *s.writer
	firm.Darker = math.Min(0.9, firm.Darker*s.between(0.9, 1.5))
	firm.WidthMM *= s.between(1, 1.5)
	firm.JitterMM, firm.Sloppy = 0.3, 0
	firm.Digit(s.ink, second.strokes, s.box, s.rng)
}

// two writes two digits side by side into the box.
func (s *scene) two() {
	small := *s.writer
	small.HeightMM *= s.between(0.7, 1)
	cell := s.box.Grow(-0.3)
	small.Number(s.ink, []hand.Strokes{s.source.any(s.rng).strokes, s.source.any(s.rng).strokes}, cell, 0, s.rng)
}

// betweenBoxes writes a digit across a side of the box, a quarter to two fifths of it inside.
func (s *scene) betweenBoxes() {
	g := s.source.any(s.rng).strokes
	for g.Width < 0.35 {
		g = s.source.any(s.rng).strokes
	}
	h := math.Min(s.writer.HeightMM, 0.9*float64(s.box.H))
	far := float64(s.box.W)/2 + (s.between(0.6, 0.75)-0.5)*g.Width*h
	if s.chance(0.5) {
		far = -far
	}
	s.writer.DigitAt(s.ink, g, s.moved(far, s.between(-0.8, 0.8)), h, s.rng)
}

// smooth is a stroke through the points, rounded.
func smooth(pts ...hand.Point) hand.Line {
	for range 3 {
		// Chaikin's corner cutting; the ends stay.
		out := []hand.Point{pts[0]}
		for i := 1; i < len(pts); i++ {
			a, b := pts[i-1], pts[i]
			out = append(out,
				hand.Point{X: 0.75*a.X + 0.25*b.X, Y: 0.75*a.Y + 0.25*b.Y, W: a.W},
				hand.Point{X: 0.25*a.X + 0.75*b.X, Y: 0.25*a.Y + 0.75*b.Y, W: b.W})
		}
		pts = append(out, pts[len(pts)-1])
	}
	return hand.Line{Points: pts}
}

// pageBox is a box of 8 x 10 mm in the middle of a square of the given side.
func pageBox(side sheetmodel.MM) sheetmodel.Rect {
	return sheetmodel.Rect{X: side/2 - 4, Y: side/2 - 5, W: 8, H: 10}
}
