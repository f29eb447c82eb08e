package hand

import (
	"math"
	"math/rand/v2"
)

// gateSketch is a few poles on alternate sides of a winding course, as judges draw before the start.
func gateSketch(aspect float64, rng *rand.Rand) []Line {
	var out []Line
	gates := 2 + rng.IntN(3)
	numbered := rng.Float64() < 0.6
	first := 1 + rng.IntN(30)
	for i := range gates {
		y := (float64(i) + 0.5 + 0.15*rng.NormFloat64()) / float64(gates)
		x := 0.5 + 0.22*float64(1-2*(i%2)) + 0.05*rng.NormFloat64()
		for _, dx := range []float64{0, 0.10 + 0.05*rng.Float64()} {
			px := x + dx/math.Max(0.5, aspect)*float64(1-2*(i%2))
			h := 0.09 + 0.03*rng.Float64()
			out = append(out, Line{Points: []Point{{X: px, Y: y - h/2}, {X: px + 0.01*rng.NormFloat64(), Y: y + h/2}}})
		}
		if numbered {
			out = append(out, smallNumber(first+i, x+0.2*float64(1-2*(i%2)), y-0.05, aspect, rng)...)
		}
	}
	if rng.Float64() < 0.6 {
		out = append(out, courseLine(gates, rng))
	}
	return out
}

// courseLine swings between the gates from top to bottom.
func courseLine(gates int, rng *rand.Rand) Line {
	pts := []Point{{X: 0.5 + 0.1*rng.NormFloat64(), Y: 0.02}}
	for i := range gates {
		y := (float64(i) + 0.5) / float64(gates)
		pts = append(pts, Point{X: 0.5 + 0.12*float64(1-2*(i%2)) + 0.03*rng.NormFloat64(), Y: y})
	}
	return curve(append(pts, Point{X: 0.5 + 0.1*rng.NormFloat64(), Y: 0.98}))
}

// pathSketch is one gate and the line of a racer who missed it, with a cross or an arrow.
func pathSketch(aspect float64, rng *rand.Rand) []Line {
	side := float64(1 - 2*rng.IntN(2))
	gx, gy := 0.5+0.08*rng.NormFloat64(), 0.5+0.08*rng.NormFloat64()
	gap := 0.16 / math.Max(0.5, aspect)
	var out []Line
	for _, dx := range []float64{-gap, gap} {
		out = append(out, Line{Points: []Point{{X: gx + dx, Y: gy - 0.08}, {X: gx + dx + 0.01*rng.NormFloat64(), Y: gy + 0.07}}})
	}
	miss := gx + side*(gap+0.12+0.06*rng.Float64())
	end := Point{X: gx + side*0.1*rng.Float64(), Y: 0.95}
	path := curve([]Point{{X: gx - side*0.15, Y: 0.04}, {X: gx + side*0.02, Y: 0.25}, {X: miss, Y: gy}, {X: gx + side*0.1, Y: 0.76}, end})
	out = append(out, path)
	if rng.Float64() < 0.6 {
		out = append(out, Line{Points: []Point{{X: end.X - 0.05, Y: end.Y - 0.07}, end, {X: end.X + 0.06, Y: end.Y - 0.06}}})
	}
	if rng.Float64() < 0.6 {
		const r = 0.06
		out = append(out,
			Line{Points: []Point{{X: miss - r/aspect, Y: gy - r}, {X: miss + r/aspect, Y: gy + r}}},
			Line{Points: []Point{{X: miss + r/aspect, Y: gy - r}, {X: miss - r/aspect, Y: gy + r}}})
	}
	return out
}

// smallNumber writes n with our own digits, 0.12 of the rectangle high, its left top at (x, y).
func smallNumber(n int, x, y, aspect float64, rng *rand.Rand) []Line {
	var out []Line
	const h = 0.12
	for _, r := range itoa(n) {
		s, _ := Letter(r, rng)
		s = s.warped(1, func(u, v float64) (float64, float64) { return x + u*h/aspect, y + v*h })
		out = append(out, s.Lines...)
		x += 0.75 * h / aspect
	}
	return out
}

func itoa(n int) string {
	if n < 10 {
		return string(rune('0' + n))
	}
	return itoa(n/10) + string(rune('0'+n%10))
}

// signature is a running squiggle that starts with a tall letter and fades into a line.
func signature(aspect float64, rng *rand.Rand) []Line {
	steps := 10 + rng.IntN(8)
	pts := []Point{{X: 0.02, Y: 0.7}, {X: 0.06, Y: 0.1 + 0.1*rng.Float64()}, {X: 0.1, Y: 0.8}}
	for i := range steps {
		t := float64(i+1) / float64(steps)
		height := 0.32 * (1 - 0.6*t) * (0.5 + rng.Float64())
		if rng.Float64() < 0.15 {
			height *= 2
		}
		x := 0.12 + 0.8*t
		back := 0.02 + 0.03*rng.Float64()
		pts = append(pts, Point{X: x, Y: 0.72 - height}, Point{X: x - back/math.Max(1, aspect/4), Y: 0.75 + 0.05*rng.NormFloat64()})
	}
	out := []Line{curve(append(pts, Point{X: 1, Y: 0.66 + 0.1*rng.NormFloat64()}))}
	if rng.Float64() < 0.4 {
		out = append(out, curve([]Point{{X: 0.1, Y: 0.95}, {X: 0.5, Y: 0.9}, {X: 0.95, Y: 0.97}}))
	}
	return out
}
