package hand

import (
	"math"
	"math/rand/v2"

	"gatefold/sheetmodel"
)

// MarkKind is a mark that is no character.
type MarkKind string

// The marks. Those of the first group answer a box or a printed word, those of the second change what
// was written in the rectangle, those of the third say nothing.
const (
	Tick     MarkKind = "tick"
	Cross    MarkKind = "cross"
	Slash    MarkKind = "slash"
	Fill     MarkKind = "fill" // a box coloured in
	Ring     MarkKind = "ring" // round a printed word: drawn about the rectangle
	Dash     MarkKind = "dash"
	Question MarkKind = "question"

	StrikeOnce   MarkKind = "strike-once"
	StrikeTwice  MarkKind = "strike-twice"
	StrikeZigzag MarkKind = "strike-zigzag"
	StrikeCross  MarkKind = "strike-cross"

	Stray      MarkKind = "stray"       // a line drawn by accident
	Dots       MarkKind = "dots"        // where a pencil was put down
	GateSketch MarkKind = "gate-sketch" // poles along a course
	PathSketch MarkKind = "path-sketch" // a racer's line past one gate, with a cross where it went wrong
	Signature  MarkKind = "signature"
)

// MarkKinds lists all kinds.
func MarkKinds() []MarkKind {
	return []MarkKind{Tick, Cross, Slash, Fill, Ring, Dash, Question, StrikeOnce, StrikeTwice,
		StrikeZigzag, StrikeCross, Stray, Dots, GateSketch, PathSketch, Signature}
}

// Mark draws a mark in box, about box for a ring, and through box for a strike, and returns the
// rectangle of the ink. An unknown kind draws nothing and returns an empty rectangle.
func (w *Writer) Mark(dst *Ink, kind MarkKind, box sheetmodel.Rect, rng *rand.Rand) sheetmodel.Rect {
	u := unitMark(kind, float64(box.W/box.H), rng)
	if len(u) == 0 {
		return sheetmodel.Rect{}
	}
	// The answers are written like letters, at the writer's place; the others fill the rectangle.
	x, y, sx, sy := float64(box.X), float64(box.Y), float64(box.W), float64(box.H)
	switch kind {
	case Tick, Cross, Slash, Dash, Question:
		size := math.Min(w.HeightMM, 0.95*math.Min(sx, sy)) * (0.75 + 0.35*rng.Float64())
		if kind == Tick && rng.Float64() < 0.3 {
			size *= 1.3 // a generous tick leaves its box
		}
		x += sx/2 - size/2 + clamp(w.OffXMM+w.JitterMM*rng.NormFloat64(), 0.35*sx)*0.7
		y += sy/2 - size/2 + clamp(w.OffYMM+w.JitterMM*rng.NormFloat64(), 0.35*sy)*0.7
		sx, sy = size, size
	case StrikeOnce, StrikeTwice, StrikeZigzag, StrikeCross, Ring:
		x += 0.3 * rng.NormFloat64()
		y += clamp(0.3*rng.NormFloat64(), 0.12*sy)
	default:
	}
	width := w.WidthMM
	lines := make([]Line, len(u))
	tremble := tremor(rng)
	for i, l := range u {
		pts := make([]Point, len(l.Points))
		for j, p := range l.Points {
			px, py := x+p.X*sx, y+p.Y*sy
			dx, dy := tremble(px-x, py-y)
			pts[j] = Point{X: px + 0.06*dx, Y: py + 0.06*dy, W: width}
		}
		lines[i] = Line{Points: pts}.resampled(0.12)
	}
	return w.draw(dst, lines, w.Darker*(0.9+0.15*rng.Float64()), rng)
}

// Line draws a line as straight as a hand draws it, and returns the rectangle of the ink. The points are on the sheet, mm.
func (w *Writer) Line(dst *Ink, from, to sheetmodel.SheetPoint, rng *rand.Rand) sheetmodel.Rect {
	tremble := tremor(rng)
	dx, dy := float64(to.X-from.X), float64(to.Y-from.Y)
	steps := max(1, int(math.Hypot(dx, dy)))
	var l Line
	for i := range steps + 1 {
		at := float64(i) / float64(steps)
		tx, ty := tremble(at*dx, at*dy)
		l.Points = append(l.Points, Point{X: float64(from.X) + at*dx + 0.06*tx, Y: float64(from.Y) + at*dy + 0.06*ty, W: w.WidthMM})
	}
	return w.draw(dst, []Line{l}, w.Darker*(0.9+0.15*rng.Float64()), rng)
}

// Gates draws the same gates in each of some boxes, as one hand does that sketches them into every panel before
// the start: a whole sketch lies up to some mm off, each stroke of it some tenths.
func (w *Writer) Gates(dst *Ink, boxes []sheetmodel.Rect, rng *rand.Rand) {
	if len(boxes) == 0 {
		return
	}
	lines := gateSketch(float64(boxes[0].W/boxes[0].H), rng)
	for _, b := range boxes {
		shiftX, shiftY := 1.2*rng.NormFloat64(), 1.2*rng.NormFloat64()
		drawn := make([]Line, len(lines))
		for i, l := range lines {
			dx, dy := shiftX+0.5*rng.NormFloat64(), shiftY+0.5*rng.NormFloat64()
			pts := make([]Point, len(l.Points))
			for j, p := range l.Points {
				pts[j] = Point{X: float64(b.X) + p.X*float64(b.W) + dx, Y: float64(b.Y) + p.Y*float64(b.H) + dy, W: w.WidthMM}
			}
			drawn[i] = Line{Points: pts}.resampled(0.12)
		}
		w.draw(dst, drawn, w.Darker*(0.9+0.15*rng.Float64()), rng)
	}
}

// unitMark is a mark in the unit square that becomes its rectangle; aspect is the rectangle's width over
// its height.
func unitMark(kind MarkKind, aspect float64, rng *rand.Rand) []Line {
	n := func(s float64) float64 { return s * rng.NormFloat64() }
	pt := func(x, y float64) Point { return Point{X: x, Y: y} }
	way := func(ways ...string) []Line { return parseShape(ways[rng.IntN(len(ways))], 0.03, rng).Lines }
	switch kind {
	case Tick:
		return way("l .05,.55 .35,.95 .95,.05", "c .1,.6 .3,.85 .36,.95;c .36,.95 .6,.4 1,.02", "l .2,.5 .4,.9 .8,.1", "c .05,.5 .3,.98 .5,.6 .9,.05")
	case Cross:
		return way("l .08,.1 .92,.9;l .9,.08 .1,.92", "c .1,.08 .5,.45 .9,.95;c .88,.05 .5,.55 .08,.9", "l .2,.15 .8,.85;l .78,.15 .2,.85")
	case Slash:
		return way("l .85,.05 .15,.95", "l .7,0 .3,1", "c .9,.1 .5,.45 .12,.95")
	case Dash:
		return way("l .05,.5 .95,.48", "c .05,.52 .4,.46 .95,.5", "l .15,.5 .85,.52")
	case Question:
		return way("c .22,.22 .45,0 .72,.18 .62,.42 .45,.52 .45,.74;l .45,.95 .46,.98", "c .25,.28 .4,.02 .7,.1 .74,.36 .5,.5 .48,.72;l .47,.92 .48,.97")
	case Fill:
		var pts []Point
		rows := 7 + rng.IntN(5)
		for i := range rows {
			y := 0.12 + 0.76*float64(i)/float64(rows-1)
			a, b := 0.12+n(0.04), 0.88+n(0.04)
			if i%2 == 1 {
				a, b = b, a
			}
			pts = append(pts, pt(a, y+n(0.02)), pt(b, y+0.03+n(0.02)))
		}
		return []Line{{Points: pts}}
	case Ring:
		return []Line{ring(aspect, rng)}
	case StrikeOnce, StrikeTwice:
		var out []Line
		for i := range 1 + btoi(kind == StrikeTwice) {
			y := 0.5 + 0.16*float64(i)*float64(1-2*rng.IntN(2)) + n(0.05)
			out = append(out, curve([]Point{pt(-0.06+n(0.03), y+n(0.06)), pt(0.5, y+n(0.04)), pt(1.06+n(0.03), y+n(0.06))}))
		}
		return out
	case StrikeZigzag:
		var pts []Point
		turns := 5 + int(2*aspect) + rng.IntN(4)
		for i := range turns {
			y := 0.15 + n(0.06)
			if i%2 == 1 {
				y = 0.85 + n(0.06)
			}
			pts = append(pts, pt(float64(i)/float64(turns-1)+n(0.02), y))
		}
		return []Line{curve(pts)}
	case StrikeCross:
		return []Line{
			{Points: []Point{pt(n(0.04), 0.05+n(0.05)), pt(1+n(0.04), 0.95+n(0.05))}},
			{Points: []Point{pt(1+n(0.04), 0.05+n(0.05)), pt(n(0.04), 0.95+n(0.05))}},
		}
	case Stray:
		x, y, dir := rng.Float64(), rng.Float64(), rng.Float64()*2*math.Pi
		pts := []Point{pt(x, y)}
		for range 3 + rng.IntN(3) {
			dir += n(0.4)
			x, y = x+0.12*math.Cos(dir), y+0.12*math.Sin(dir)
			pts = append(pts, pt(x, y))
		}
		return []Line{curve(pts)}
	case Dots:
		var out []Line
		for range 1 + rng.IntN(3) {
			x, y := rng.Float64(), rng.Float64()
			out = append(out, Line{Points: []Point{pt(x, y), pt(x+0.01, y+n(0.01))}})
		}
		return out
	case GateSketch:
		return gateSketch(aspect, rng)
	case PathSketch:
		return pathSketch(aspect, rng)
	case Signature:
		return signature(aspect, rng)
	}
	return nil
}

// ring is a hand-drawn ring a little larger than the unit square; its ends overlap or miss each other.
func ring(aspect float64, rng *rand.Rand) Line {
	start, turn := rng.Float64()*2*math.Pi, 2*math.Pi*(0.96+0.12*rng.Float64())
	sign := float64(1 - 2*rng.IntN(2))
	rx, ry := 0.5+(0.10+0.10*rng.Float64())/math.Max(1, aspect*0.6), 0.58+0.14*rng.Float64()
	lop := 0.05 * rng.NormFloat64()
	const steps = 40
	pts := make([]Point, 0, steps+1)
	for i := range steps + 1 {
		t := float64(i) / steps
		a := start + sign*turn*t
		grow := 1 + 0.08*(t-0.5) + lop*math.Sin(2*a+start)
		// Rings round words are flatter than ellipses.
		c, s := math.Cos(a), math.Sin(a)
		c, s = math.Copysign(math.Pow(math.Abs(c), 0.8), c), math.Copysign(math.Pow(math.Abs(s), 0.8), s)
		pts = append(pts, Point{X: 0.5 + rx*grow*c, Y: 0.5 + ry*grow*s})
	}
	return Line{Points: pts}.smoothed(4, false)
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}
