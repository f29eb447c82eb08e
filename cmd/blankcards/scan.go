package main

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
)

// look is what a scanner or copier makes of a print.
type look struct {
	turnDeg     float64
	black       float64 // grey of the darkest print
	paper       float64
	grain       float64
	generations int // copies of copies before the scan
}

func greys() color.Palette {
	var p color.Palette
	for i := range 16 {
		p = append(p, color.Gray{Y: uint8(17 * i)})
	}
	return p
}

// scanned is the print as a scan shows it. Each generation of copying spreads and eats at edges, tells only light from
// dark, and leaves dust.
func scanned(print *image.Gray, l look, seed uint64) *image.Gray {
	rng := rand.New(rand.NewPCG(seed, 20270115))
	w, h := print.Rect.Dx(), print.Rect.Dy()
	v := make([]float64, w*h)
	for i, p := range print.Pix {
		v[i] = float64(p) / 255
	}
	for g := range l.generations {
		v = turned(blurred(v, w, h), w, h, 0.25*float64(1-2*(g%2)))
		cut := 0.62
		for i := range v {
			// A worn drum: coverage comes and goes down the page.
			wear := 0.06 * math.Sin(float64(i/w)/190+float64(g))
			v[i] = 1 / (1 + math.Exp(-(v[i]-cut+wear+0.10*rng.NormFloat64())*14))
		}
		for range w * h / 14000 {
			x, y := rng.IntN(w-3), rng.IntN(h-3)
			for dy := range 1 + rng.IntN(2) {
				for dx := range 1 + rng.IntN(2) {
					v[(y+dy)*w+x+dx] *= 0.3
				}
			}
		}
	}
	v = turned(blurred(v, w, h), w, h, l.turnDeg)
	out := image.NewGray(print.Rect)
	for i, p := range v {
		out.Pix[i] = uint8(min(255, max(0, l.black+(l.paper-l.black)*p+l.grain*rng.NormFloat64())))
	}
	return out
}

func blurred(v []float64, w, h int) []float64 {
	for pass := range 2 {
		out := make([]float64, len(v))
		step := 1
		if pass == 1 {
			step = w
		}
		for i := range v {
			x := i % w
			if pass == 1 {
				x = i / w
			}
			if n := []int{w, h}[pass]; x == 0 || x == n-1 {
				out[i] = v[i]
				continue
			}
			out[i] = 0.25*v[i-step] + 0.5*v[i] + 0.25*v[i+step]
		}
		v = out
	}
	return v
}

func turned(v []float64, w, h int, deg float64) []float64 {
	out := make([]float64, len(v))
	sin, cos := math.Sincos(deg * math.Pi / 180)
	for y := range h {
		for x := range w {
			dx, dy := float64(x)-float64(w)/2, float64(y)-float64(h)/2
			sx, sy := float64(w)/2+cos*dx-sin*dy, float64(h)/2+sin*dx+cos*dy
			x0, y0 := int(math.Floor(sx)), int(math.Floor(sy))
			out[y*w+x] = 1
			if x0 >= 0 && y0 >= 0 && x0+1 < w && y0+1 < h {
				fx, fy := sx-float64(x0), sy-float64(y0)
				i := y0*w + x0
				out[y*w+x] = (1-fy)*((1-fx)*v[i]+fx*v[i+1]) + fy*((1-fx)*v[i+w]+fx*v[i+w+1])
			}
		}
	}
	return out
}
