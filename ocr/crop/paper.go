package crop

import "math"

// plane is grey a + b·u + c·v over a window, u and v from -1 to 1.
type plane struct{ a, b, c float64 }

// paperRounds is how often the plane is fitted; each round drops what is darker than the last plane.
const paperRounds = 5

// paperLevel fits a plane to the paper of r and returns it with the standard deviation of the paper
// about it, in grey. Ink and printed lines are left out as darker than the paper, glare as lighter.
//
// It starts from all pixels above the median, which is paper unless more than half of the window is
// covered; light falls off slowly, so a plane is enough over 10 mm. A shadow's edge is not paper of one
// plane: what remains of it stays in the picture for the nets, which have seen such edges.
func paperLevel(r raster) (plane, float64) {
	start := quantile(r.v, 0.6)
	p := plane{a: float64(start)}
	// The first band is wide: light may fall off by a tenth across the window.
	lo, hi := 0.12*p.a, 0.25*p.a
	sd := 0.0
	for range paperRounds {
		var s sums
		sq, n := 0.0, 0.0
		for y := range r.h {
			v := coord(y, r.h)
			for x := range r.w {
				u := coord(x, r.w)
				g := float64(r.v[y*r.w+x])
				d := g - p.at(u, v)
				if d < -lo || d > hi {
					continue
				}
				s.add(u, v, g)
				sq, n = sq+d*d, n+1
			}
		}
		if n < float64(r.w*r.h)/8 {
			break
		}
		p = s.solve()
		sd = math.Sqrt(sq / n)
		band := math.Max(2.2*sd, 0.012*p.a)
		lo, hi = math.Min(lo, band), math.Min(hi, 1.3*band)
	}
	return p, sd
}

func coord(i, n int) float64 { return 2*(float64(i)+0.5)/float64(n) - 1 }

func (p plane) at(u, v float64) float64 { return p.a + p.b*u + p.c*v }

// darkness returns 1 - grey/paper for each pixel of r.
func (p plane) darkness(r raster) raster {
	out := newRaster(r.w, r.h)
	for y := range r.h {
		v := coord(y, r.h)
		for x := range r.w {
			paper := math.Max(8, p.at(coord(x, r.w), v)) // a black window has no paper: no division by nothing
			out.v[y*r.w+x] = float32(1 - float64(r.v[y*r.w+x])/paper)
		}
	}
	return out
}

// sums are the normal equations of the plane fit.
type sums struct{ n, u, v, uu, uv, vv, g, gu, gv float64 }

func (s *sums) add(u, v, g float64) {
	s.n, s.u, s.v = s.n+1, s.u+u, s.v+v
	s.uu, s.uv, s.vv = s.uu+u*u, s.uv+u*v, s.vv+v*v
	s.g, s.gu, s.gv = s.g+g, s.gu+g*u, s.gv+g*v
}

// solve uses Cramer's rule; without spread in both directions the mean remains.
func (s *sums) solve() plane {
	det := s.n*(s.uu*s.vv-s.uv*s.uv) - s.u*(s.u*s.vv-s.uv*s.v) + s.v*(s.u*s.uv-s.uu*s.v)
	if math.Abs(det) < 1e-6*s.n*s.n*s.n {
		return plane{a: s.g / s.n}
	}
	return plane{
		a: (s.g*(s.uu*s.vv-s.uv*s.uv) - s.u*(s.gu*s.vv-s.uv*s.gv) + s.v*(s.gu*s.uv-s.uu*s.gv)) / det,
		b: (s.n*(s.gu*s.vv-s.gv*s.uv) - s.g*(s.u*s.vv-s.uv*s.v) + s.v*(s.u*s.gv-s.gu*s.v)) / det,
		c: (s.n*(s.uu*s.gv-s.uv*s.gu) - s.u*(s.u*s.gv-s.gu*s.v) + s.g*(s.u*s.uv-s.uu*s.v)) / det,
	}
}

// quantile returns about the q-quantile of grey values 0 to 255.
func quantile(v []float32, q float64) float32 {
	var hist [257]int
	for _, g := range v {
		hist[int(min(max(g, 0), 255))]++
	}
	want, have := int(q*float64(len(v))), 0
	for g, n := range hist {
		have += n
		if have > want {
			return float32(g)
		}
	}
	return 255
}
