package cells

import (
	"math"
	"math/rand/v2"
)

// Sizes in mm: what is drawn, what the photo shows of it, and what is straightened.
const (
	sheetW, sheetH = 17.0, 19.0
	viewW, viewH   = 15.5, 17.5
	pageW, pageH   = 13.0, 15.0
)

// drawPxPerMM is the resolution that paper, print and ink are drawn at.
const drawPxPerMM = 12

// sheet is the reflectance of a piece of paper, 1 is clean, with the box's middle in its own.
type sheet struct {
	v       []float32
	w, h    int
	pxPerMM float64
}

func newSheet() *sheet {
	s := &sheet{w: sheetW * drawPxPerMM, h: sheetH * drawPxPerMM, pxPerMM: drawPxPerMM}
	s.v = make([]float32, s.w*s.h)
	for i := range s.v {
		s.v[i] = 1
	}
	return s
}

// at interpolates the reflectance at (x, y) mm from the middle.
func (s *sheet) at(x, y float64) float64 {
	px := x*s.pxPerMM + float64(s.w)/2 - 0.5
	py := y*s.pxPerMM + float64(s.h)/2 - 0.5
	px = math.Max(0, math.Min(float64(s.w)-1.01, px))
	py = math.Max(0, math.Min(float64(s.h)-1.01, py))
	i, j := int(px), int(py)
	fx, fy := float32(px-float64(i)), float32(py-float64(j))
	o := j*s.w + i
	top := s.v[o]*(1-fx) + s.v[o+1]*fx
	low := s.v[o+s.w]*(1-fx) + s.v[o+s.w+1]*fx
	return float64(top*(1-fy) + low*fy)
}

// halved is s at half its resolution.
func (s *sheet) halved() *sheet {
	h := &sheet{w: s.w / 2, h: s.h / 2, pxPerMM: s.pxPerMM / 2}
	h.v = make([]float32, h.w*h.h)
	for y := range h.h {
		a, b := s.v[2*y*s.w:], s.v[(2*y+1)*s.w:]
		for x := range h.w {
			h.v[y*h.w+x] = (a[2*x] + a[2*x+1] + b[2*x] + b[2*x+1]) / 4
		}
	}
	return h
}

// blurred is s as the lens and a hand's motion leave it before pixels of 1/photoPxPerMM mm sample it.
func (s *sheet) blurred(c conditions, photoPxPerMM float64, rng *rand.Rand) *sheet {
	if photoPxPerMM < 6 {
		s = s.halved() // finer than the pixels all the same
	}
	sigma := c.blurMM.draw(rng)
	along, dir := 0.0, 0.0
	if rng.Float64() < c.faultShare {
		share := c.motion.draw(rng)
		along, dir = sigma*math.Sqrt(share), rng.Float64()*math.Pi
		sigma *= math.Sqrt(1 - share)
	}
	// A pixel sees its own area: a box of side 1/photoPxPerMM has this standard deviation.
	sigma = math.Hypot(sigma, 0.289/photoPxPerMM)
	out := &sheet{v: append([]float32(nil), s.v...), w: s.w, h: s.h, pxPerMM: s.pxPerMM}
	if along > 0 {
		out = out.smeared(along*math.Sqrt(12), dir)
	}
	out.gauss(sigma * s.pxPerMM)
	return out
}

// smeared is s moved evenly over length mm.
func (s *sheet) smeared(length, dir float64) *sheet {
	out := &sheet{v: make([]float32, len(s.v)), w: s.w, h: s.h, pxPerMM: s.pxPerMM}
	n := max(2, int(math.Ceil(length*s.pxPerMM)))
	for k := range n {
		t := (float64(k)/float64(n-1) - 0.5) * length * s.pxPerMM
		dx, dy := int(math.Round(t*math.Cos(dir))), int(math.Round(t*math.Sin(dir)))
		for y := range s.h {
			from := s.v[min(max(y+dy, 0), s.h-1)*s.w:]
			row := out.v[y*s.w:]
			for x := range s.w {
				row[x] += from[min(max(x+dx, 0), s.w-1)] / float32(n)
			}
		}
	}
	return out
}

// gauss blurs s by sigma px, separably.
func (s *sheet) gauss(sigma float64) {
	if sigma < 0.2 {
		return
	}
	r := int(math.Ceil(2.6 * sigma))
	k := make([]float32, r+1)
	sum := 0.0
	for i := range k {
		g := math.Exp(-float64(i*i) / (2 * sigma * sigma))
		k[i] = float32(g)
		if i > 0 {
			g *= 2
		}
		sum += g
	}
	for i := range k {
		k[i] /= float32(sum)
	}
	pad := make([]float32, s.w+2*r)
	for y := range s.h {
		row := s.v[y*s.w : (y+1)*s.w]
		copy(pad[r:], row)
		for i := range r {
			pad[i], pad[len(pad)-1-i] = row[0], row[s.w-1]
		}
		for x := range row {
			v := k[0] * pad[x+r]
			for i := 1; i <= r; i++ {
				v += k[i] * (pad[x+r-i] + pad[x+r+i])
			}
			row[x] = v
		}
	}
	src := append([]float32(nil), s.v...)
	for y := range s.h {
		out := s.v[y*s.w : (y+1)*s.w]
		c := src[y*s.w : (y+1)*s.w]
		for x := range out {
			out[x] = k[0] * c[x]
		}
		for i := 1; i <= r; i++ {
			a, b := src[max(y-i, 0)*s.w:], src[min(y+i, s.h-1)*s.w:]
			for x := range out {
				out[x] += k[i] * (a[x] + b[x])
			}
		}
	}
}
