package hand

import (
	"math"
	"math/rand/v2"

	"gatefold/sheetmodel"
)

// draw puts lines, in mm on the sheet, onto dst and returns the rectangle they darkened.
//
// Points carry the pen's width in mm. Deposits of one call do not add up where its lines cross, as a
// pencil's don't; those of two calls do.
func (w *Writer) draw(dst *Ink, lines []Line, darker float64, rng *rand.Rand) sheetmodel.Rect {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, l := range lines {
		for _, p := range l.Points {
			r := p.W * 0.6
			x0, x1 = math.Min(x0, p.X-r), math.Max(x1, p.X+r)
			y0, y1 = math.Min(y0, p.Y-r), math.Max(y1, p.Y+r)
		}
	}
	if math.IsInf(x0, 0) {
		return sheetmodel.Rect{}
	}
	s := dst.PxPerMM
	b := &deposit{
		x0: int(math.Floor(x0*s)) - 1, y0: int(math.Floor(y0*s)) - 1,
		pen: w.Pen, pxPerMM: s, darker: darker, paper: w.paper(),
	}
	b.w, b.h = int(math.Ceil(x1*s))+1-b.x0, int(math.Ceil(y1*s))+1-b.y0
	b.near = make([]nearest, b.w*b.h)
	for _, l := range lines {
		l = l.resampled(0.12)
		b.line(l, w.pressing(l, rng))
	}
	b.onto(dst)
	return sheetmodel.Rect{
		X: sheetmodel.MM(x0), Y: sheetmodel.MM(y0), W: sheetmodel.MM(x1 - x0), H: sheetmodel.MM(y1 - y0),
	}
}

// pressing returns the pen's pressure at each point of l, 1 on average.
func (w *Writer) pressing(l Line, rng *rand.Rand) []float64 {
	n := len(l.Points)
	out := make([]float64, n)
	// Two slow waves along the stroke, a firm start and a light end.
	f1, f2 := 0.3+0.5*rng.Float64(), 0.8+0.8*rng.Float64() // waves a mm
	p1, p2 := rng.Float64()*2*math.Pi, rng.Float64()*2*math.Pi
	skipAt, skipLen := -1.0, 0.0
	if rng.Float64() < w.Skips {
		skipAt, skipLen = rng.Float64()*l.length(), 0.15+0.3*rng.Float64()
	}
	at, total := 0.0, l.length()
	for i := range out {
		if i > 0 {
			at += dist(l.Points[i-1], l.Points[i])
		}
		p := 1 + w.Uneven*(0.7*math.Sin(f1*2*math.Pi*at+p1)+0.4*math.Sin(f2*2*math.Pi*at+p2))
		if total > 1 {
			p *= 1.05 - 0.15*math.Exp(-(total-at)/0.4)
		}
		if skipAt >= 0 && math.Abs(at-skipAt) < skipLen/2 {
			p *= 0.25
		}
		out[i] = math.Max(0.1, p)
	}
	return out
}

// nearest is the stroke that a pixel is deepest in: d px from its centre line, half px to each side.
// half is 0 where there is none.
type nearest struct{ d, half, press float32 }

// deposit is graphite or ink being laid on a part of the sheet, in shares of the paper's grey.
type deposit struct {
	x0, y0, w, h int
	near         []nearest
	pen          Pen
	pxPerMM      float64
	darker       float64
	paper        paperAt
}

// line lays the segments of l.
func (b *deposit) line(l Line, press []float64) {
	pts := l.Points
	if len(pts) == 1 {
		b.segment(pts[0], pts[0], press[0], press[0])
	}
	for i := 1; i < len(pts); i++ {
		b.segment(pts[i-1], pts[i], press[i-1], press[i])
	}
}

func (b *deposit) segment(p, q Point, pressP, pressQ float64) {
	s := b.pxPerMM
	const rim = 0.6 // half a width and the soft edge
	r := math.Max(p.W, q.W)*rim*s + 1
	ax, ay := p.X*s-0.5, p.Y*s-0.5
	bx, by := q.X*s-0.5, q.Y*s-0.5
	x0 := max(b.x0, int(math.Floor(math.Min(ax, bx)-r)))
	x1 := min(b.x0+b.w-1, int(math.Ceil(math.Max(ax, bx)+r)))
	y0 := max(b.y0, int(math.Floor(math.Min(ay, by)-r)))
	y1 := min(b.y0+b.h-1, int(math.Ceil(math.Max(ay, by)+r)))
	dx, dy := bx-ax, by-ay
	n := dx*dx + dy*dy
	for y := y0; y <= y1; y++ {
		for x := x0; x <= x1; x++ {
			ex, ey := float64(x)-ax, float64(y)-ay
			t := 0.0
			if n > 0 {
				t = math.Max(0, math.Min(1, (ex*dx+ey*dy)/n))
			}
			ex, ey = ex-t*dx, ey-t*dy
			half := (p.W + t*(q.W-p.W)) / 2 * s
			d := math.Sqrt(ex*ex + ey*ey)
			if d > half*1.2+1 {
				continue
			}
			k := &b.near[(y-b.y0)*b.w+x-b.x0]
			if k.half == 0 || d-half < float64(k.d-k.half) {
				*k = nearest{float32(d), float32(half), float32(pressP + t*(pressQ-pressP))}
			}
		}
	}
}

// at returns the deposit at pixel (x, y), d px off the centre line of a stroke half px to each side.
func (b *deposit) at(x, y int, d, half, press float64) float64 {
	// The edge is never sharper than a pixel.
	soft := 0.30
	if b.pen == Ballpoint {
		soft = 0.08
	}
	edge := math.Max(soft*half, 0.5)
	profile := 1 - smoothstep((d-half+edge)/(2*edge))
	if profile <= 0 {
		return 0
	}
	tooth := b.paper.tooth(float64(x)/b.pxPerMM, float64(y)/b.pxPerMM)
	if b.pen == Ballpoint {
		return b.darker * profile * math.Min(1, press*1.1) * (0.94 + 0.12*tooth)
	}
	// Graphite stays on the paper's hills; the lighter the pencil, the higher the hill must be. Near the
	// edge of the stroke the point presses less.
	load := math.Max(0.15, math.Min(1, 0.35+0.9*b.darker)) * press * (0.55 + 0.45*profile)
	grain := smoothstep((tooth - (0.78 - 0.80*load) + 0.22) / 0.44)
	return b.darker * press * profile * (0.42 + 0.58*grain/meanGrain(load))
}

// meanGrain is the mean of the grain over paper whose tooth is spread evenly from 0 to 1: dividing by it
// keeps a stroke's mean darkness whatever its grain.
func meanGrain(load float64) float64 {
	// The smoothstep rises from a to b; its mean over [0, 1] is the part right of b and half the ramp.
	a, b := 0.78-0.80*load-0.22, 0.78-0.80*load+0.22
	m := 1 - (a+b)/2
	return math.Max(0.3, math.Min(1, m))
}

// onto darkens dst.
func (b *deposit) onto(dst *Ink) {
	for y := range b.h {
		ty := b.y0 + y - dst.MinY
		if ty < 0 || ty >= dst.H {
			continue
		}
		for x := range b.w {
			tx := b.x0 + x - dst.MinX
			k := b.near[y*b.w+x]
			if tx < 0 || tx >= dst.W || k.half == 0 {
				continue
			}
			v := float32(b.at(b.x0+x, b.y0+y, float64(k.d), float64(k.half), float64(k.press)))
			if v <= 0 {
				continue
			}
			// No pencil or ballpoint is blacker than this share.
			const blackest = 0.93
			f := &dst.Factor[ty*dst.W+tx]
			left := float32(*f) / 255 * (1 - min(v, blackest))
			*f = uint8(max(left, 1-blackest)*255 + 0.5)
		}
	}
}

func smoothstep(t float64) float64 {
	t = math.Max(0, math.Min(1, t))
	return t * t * (3 - 2*t)
}
