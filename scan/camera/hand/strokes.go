package hand

import "math"

// Point is a point on the centre line of a stroke, with the stroke's width there.
type Point struct {
	X, Y float64
	W    float64
}

// Line is one stroke of the pen from its first point to its last.
type Line struct {
	Points []Point
}

// Strokes is one character or mark as centre lines, in a unit frame: origin at the top left of the ink,
// x right, y down, height 1 (a flat mark such as a dash has its own height). Width is its extent in x.
type Strokes struct {
	Lines []Line
	Width float64
	// Pen is the median width of the strokes, in units of the height.
	Pen float64
}

// length is the length of the line.
func (l Line) length() float64 {
	sum := 0.0
	for i := 1; i < len(l.Points); i++ {
		sum += dist(l.Points[i-1], l.Points[i])
	}
	return sum
}

// bounds returns the smallest box around all points, without the pen's width.
func (s Strokes) bounds() (x0, y0, x1, y1 float64) {
	x0, y0 = math.Inf(1), math.Inf(1)
	x1, y1 = math.Inf(-1), math.Inf(-1)
	for _, l := range s.Lines {
		for _, p := range l.Points {
			x0, x1 = math.Min(x0, p.X), math.Max(x1, p.X)
			y0, y1 = math.Min(y0, p.Y), math.Max(y1, p.Y)
		}
	}
	return x0, y0, x1, y1
}

// warped returns a copy with f applied to each point; W is multiplied by scale.
func (s Strokes) warped(scale float64, f func(x, y float64) (float64, float64)) Strokes {
	out := Strokes{Lines: make([]Line, len(s.Lines)), Width: s.Width, Pen: s.Pen * scale}
	for i, l := range s.Lines {
		pts := make([]Point, len(l.Points))
		for j, p := range l.Points {
			x, y := f(p.X, p.Y)
			pts[j] = Point{X: x, Y: y, W: p.W * scale}
		}
		out.Lines[i].Points = pts
	}
	return out
}

func dist(a, b Point) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }

// resampled returns the line with points about step apart, ends kept.
func (l Line) resampled(step float64) Line {
	total := l.length()
	if len(l.Points) < 2 || total < 1e-9 {
		return l
	}
	n := max(1, int(math.Ceil(total/step)))
	out := make([]Point, 0, n+1)
	out = append(out, l.Points[0])
	seg, before := 1, 0.0 // before: length up to the start of segment seg
	for k := 1; k < n; k++ {
		at := total * float64(k) / float64(n)
		for seg < len(l.Points)-1 && before+dist(l.Points[seg-1], l.Points[seg]) < at {
			before += dist(l.Points[seg-1], l.Points[seg])
			seg++
		}
		a, b := l.Points[seg-1], l.Points[seg]
		t := 0.0
		if d := dist(a, b); d > 0 {
			t = math.Min(1, (at-before)/d)
		}
		out = append(out, Point{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y), W: a.W + t*(b.W-a.W)})
	}
	return Line{Points: append(out, l.Points[len(l.Points)-1])}
}

// smoothed returns the line after n rounds of the kernel 1-2-1; the ends of an open line stay.
func (l Line) smoothed(n int, closed bool) Line {
	p := append([]Point(nil), l.Points...)
	if len(p) < 3 {
		return Line{Points: p}
	}
	q := make([]Point, len(p))
	m := len(p)
	for range n {
		for i := range p {
			a, b := i-1, i+1
			if closed {
				// First and last point are the same one.
				if a < 0 {
					a = m - 2
				}
				if b >= m {
					b = 1
				}
			} else if a < 0 || b >= m {
				q[i] = p[i]
				continue
			}
			q[i] = Point{
				X: (p[a].X + 2*p[i].X + p[b].X) / 4,
				Y: (p[a].Y + 2*p[i].Y + p[b].Y) / 4,
				W: (p[a].W + 2*p[i].W + p[b].W) / 4,
			}
		}
		p, q = q, p
	}
	return Line{Points: p}
}
