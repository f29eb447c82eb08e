package cells

import (
	"math"
	"math/rand/v2"

	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// write writes g into the scene's box as its writer would. wild bends and stretches it first, for nets
// that are to learn from it; figures are measured on tame digits.
func (s *scene) write(g hand.Strokes, wild bool) {
	if wild {
		g = Bent(g, s.rng)
	}
	s.writer.Digit(s.ink, g, s.box, s.rng)
}

// Bent is g with another width to height, a gentle bend, and another slant: hands differ more than 400
// writers show.
func Bent(g hand.Strokes, rng *rand.Rand) hand.Strokes {
	widen := math.Exp(0.12 * rng.NormFloat64())
	shear := 0.10 * rng.NormFloat64()
	turn := 0.06 * rng.NormFloat64()
	amp := 0.035 * math.Abs(rng.NormFloat64())
	var a [8]float64
	for i := range a {
		a[i] = rng.NormFloat64()
	}
	mid := g.Width / 2
	bend := func(p hand.Point) hand.Point {
		x, y := (p.X-mid)*widen, p.Y-0.5
		x -= shear * y
		x, y = x-turn*y, y+turn*x
		dx := amp * math.Sin(5*a[0]*x+5*a[1]*y+6*a[2])
		dy := amp * math.Sin(5*a[3]*x+5*a[4]*y+6*a[5])
		p.X, p.Y = x+dx+mid*widen, y+dy+0.5
		return p
	}
	return framed(remade(g, bend))
}

// framed moves and scales g so that its points fill the unit frame again.
func framed(g hand.Strokes) hand.Strokes {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, l := range g.Lines {
		for _, p := range l.Points {
			x0, x1 = math.Min(x0, p.X), math.Max(x1, p.X)
			y0, y1 = math.Min(y0, p.Y), math.Max(y1, p.Y)
		}
	}
	if math.IsInf(x0, 0) {
		return g
	}
	half := g.Pen / 2
	x0, y0, x1, y1 = x0-half, y0-half, x1+half, y1+half
	k := 1 / math.Max(0.3*(x1-x0), math.Max(y1-y0, 1e-6))
	out := remade(g, func(p hand.Point) hand.Point {
		return hand.Point{X: (p.X - x0) * k, Y: (p.Y - y0) * k, W: p.W * k}
	})
	out.Width, out.Pen = (x1-x0)*k, g.Pen*k
	return out
}

// European turns some digits into ways of writing that American hands lack: a 1 with a flag, also with
// a foot, a crossed 7, a slashed 0.
func European(label uint8, g hand.Strokes, share float64, rng *rand.Rand) hand.Strokes {
	if rng.Float64() >= share {
		return g
	}
	switch label {
	case 1:
		return flagged(g, rng)
	case 7:
		return crossed(g, rng)
	case 0:
		if rng.Float64() < 0.25 {
			return slashed(g, rng)
		}
	}
	return g
}

// flagged adds the upstroke that leads to the top of a 1, and now and then a foot.
func flagged(g hand.Strokes, rng *rand.Rand) hand.Strokes {
	top, low := ends(g)
	if g.Width > 0.55 {
		return g // it has a flag or a foot already
	}
	out := remade(g, func(p hand.Point) hand.Point { return p })
	// From 25 to 60 degrees off the upright; flatter ones with a long flag are sevens.
	angle := (25 + 35*rng.Float64()) * math.Pi / 180
	length := (0.18 + 0.4*rng.Float64()) / (0.6 + 0.6*angle)
	out.Lines = append(out.Lines, curve(
		hand.Point{X: top.X - length*math.Sin(angle), Y: top.Y + length*math.Cos(angle), W: g.Pen},
		hand.Point{X: top.X, Y: top.Y, W: g.Pen}, 0.06*rng.NormFloat64()))
	if rng.Float64() < 0.35 {
		half := 0.12 + 0.18*rng.Float64()
		tilt := 0.05 * rng.NormFloat64()
		out.Lines = append(out.Lines, curve(
			hand.Point{X: low.X - half, Y: low.Y + tilt, W: g.Pen},
			hand.Point{X: low.X + half*(0.7+0.6*rng.Float64()), Y: low.Y - tilt, W: g.Pen}, 0.02*rng.NormFloat64()))
	}
	return framed(out)
}

// crossed adds the bar through the stem of a 7.
func crossed(g hand.Strokes, rng *rand.Rand) hand.Strokes {
	out := remade(g, func(p hand.Point) hand.Point { return p })
	y := 0.42 + 0.2*rng.Float64()
	x := nearestX(g, y)
	half, tilt := 0.12+0.18*rng.Float64(), 0.08*rng.NormFloat64()
	out.Lines = append(out.Lines, curve(
		hand.Point{X: x - half*(0.7+0.6*rng.Float64()), Y: y + tilt, W: g.Pen},
		hand.Point{X: x + half, Y: y - tilt, W: g.Pen}, 0.03*rng.NormFloat64()))
	return framed(out)
}

// slashed adds the stroke through a 0.
func slashed(g hand.Strokes, rng *rand.Rand) hand.Strokes {
	out := remade(g, func(p hand.Point) hand.Point { return p })
	in := 0.05 + 0.2*rng.Float64()
	out.Lines = append(out.Lines, curve(
		hand.Point{X: g.Width * (1 - in), Y: 0.02 + in, W: g.Pen},
		hand.Point{X: g.Width * in, Y: 0.98 - in, W: g.Pen}, 0.03*rng.NormFloat64()))
	return framed(out)
}

// curve is a stroke from a to b with the given sagitta, as a share of its length.
func curve(a, b hand.Point, sag float64) hand.Line {
	const n = 10
	pts := make([]hand.Point, n+1)
	dx, dy := b.X-a.X, b.Y-a.Y
	for i := range pts {
		t := float64(i) / n
		k := 4 * t * (1 - t) * sag
		pts[i] = hand.Point{X: a.X + t*dx - k*dy, Y: a.Y + t*dy + k*dx, W: a.W + t*(b.W-a.W)}
	}
	return hand.Line{Points: pts}
}

// ends returns the highest and the lowest point of g.
func ends(g hand.Strokes) (top, low hand.Point) {
	top, low = hand.Point{Y: math.Inf(1)}, hand.Point{Y: math.Inf(-1)}
	for _, l := range g.Lines {
		for _, p := range l.Points {
			if p.Y < top.Y {
				top = p
			}
			if p.Y > low.Y {
				low = p
			}
		}
	}
	return top, low
}

// nearestX is the X of the point of g whose Y is nearest to y.
func nearestX(g hand.Strokes, y float64) float64 {
	x, best := 0.0, math.Inf(1)
	for _, l := range g.Lines {
		for _, p := range l.Points {
			if d := math.Abs(p.Y - y); d < best {
				x, best = p.X, d
			}
		}
	}
	return x
}

// pasted darkens the paper by the glyph's own grey pixels, blown up: no pencil looks like that, but it
// is what MNIST is, so nets see some and are measured on it.
func (s *scene) pasted(g *hand.Glyph, heightMM, darker float64) {
	scale := 20 / heightMM // glyph px a mm
	for y := range s.paper.h {
		gy := ((float64(y)+0.5)/drawPxPerMM-sheetH/2)*scale + 14 - 0.5
		for x := range s.paper.w {
			gx := ((float64(x)+0.5)/drawPxPerMM-sheetW/2)*scale + 14 - 0.5
			if gx <= 0 || gy <= 0 || gx >= 27 || gy >= 27 {
				continue
			}
			i, j := int(gx), int(gy)
			fx, fy := gx-float64(i), gy-float64(j)
			v := (float64(g.Pix[j*28+i])*(1-fx)+float64(g.Pix[j*28+i+1])*fx)*(1-fy) +
				(float64(g.Pix[(j+1)*28+i])*(1-fx)+float64(g.Pix[(j+1)*28+i+1])*fx)*fy
			s.paper.v[y*s.paper.w+x] *= float32(1 - darker*v/255)
		}
	}
}

// moved is the point off the box's middle by dx, dy mm.
func (s *scene) moved(dx, dy float64) sheetmodel.SheetPoint {
	return sheetmodel.SheetPoint{X: sheetmodel.MM(dx), Y: sheetmodel.MM(dy)}
}
