package crop

import "math"

// Sizes for flattening, px at inkPxPerMM.
const (
	closePx = 16 // 2.7 mm: wider than any stroke, narrower than any shadow worth the name
	coarse  = 2  // the paper is looked for at half the resolution: a quarter of the work, less noise
)

// flattened returns the darkness of r against the paper beside each pixel, and the noise of the paper.
//
// The paper is r closed by a square: dark things narrower than the square vanish, while the edge of a
// shadow stays where it is, which a plane or a mean could not follow. What is solid and wider than the
// square (a box filled black) is taken for shade inside and keeps its rim.
func flattened(r raster) (raster, float64) {
	const darkest = 8 // grey; no paper is darker
	soft := r.softened()
	paper := soft.halved().closed(closePx/coarse).doubled(r.w, r.h)
	gap := newRaster(r.w, r.h) // share by which a pixel is darker than its brightest neighbours
	for i, v := range soft.v {
		gap.v[i] = 1 - v/max(darkest, paper.v[i])
		if paper.v[i] < darkest {
			gap.v[i] = 0
		}
	}
	// Most of the window is paper. Its brightest pixels made the closing: the usual paper is darker.
	q10, q40 := shareQuantile(gap.v, 0.10), shareQuantile(gap.v, 0.40)
	// For noise alone these two quantiles lie 1.03 standard deviations apart; ink and print take about a
	// fifth of the darker end, which makes it about 1.2.
	const apart = 1.2
	for i, v := range soft.v {
		gap.v[i] = 1 - v/(max(darkest, paper.v[i])*(1-q40))
		if paper.v[i] < darkest {
			gap.v[i] = 0 // black all around: nothing can be told, so nothing is ink
		}
	}
	return gap, math.Max(0.002, float64(q40-q10)/apart)
}

// closed is r dilated and eroded by a square of side px.
func (r raster) closed(side int) raster {
	out := raster{v: append([]float32(nil), r.v...), w: r.w, h: r.h}
	out.extreme(side, true)
	out.extreme(side, false)
	return out
}

// extreme replaces each pixel by the largest or least in the square of the given side around it.
func (r raster) extreme(side int, largest bool) {
	line := make([]float32, max(r.w, r.h)+2*side)
	for y := range r.h {
		runExtreme(r.v[y*r.w:], r.w, 1, line, side, largest)
	}
	for x := range r.w {
		runExtreme(r.v[x:], r.h, r.w, line, side, largest)
	}
}

// runExtreme does one row or column of n values, step apart; line is room for n + 2·side values.
// Windows double in length until they hold side+1 values: log2(side) passes instead of side.
func runExtreme(v []float32, n, step int, line []float32, side int, largest bool) {
	half := side / 2
	m := n + 2*half
	for i := range m {
		line[i] = v[min(max(i-half, 0), n-1)*step]
	}
	have := 1
	for have < 2*half+1 {
		more := min(have, 2*half+1-have)
		for i := range m - more {
			if largest == (line[i+more] > line[i]) {
				line[i] = line[i+more]
			}
		}
		have += more
	}
	for i := range n {
		v[i*step] = line[i]
	}
}

// shareQuantile returns about the q-quantile of shares from -0.1 to 0.9.
func shareQuantile(v []float32, q float64) float32 {
	const bins = 1000
	var hist [bins + 1]int
	for _, g := range v {
		hist[int(min(max((g+0.1)*bins, 0), bins))]++
	}
	want, have := int(q*float64(len(v))), 0
	for k, n := range hist {
		have += n
		if have > want {
			return (float32(k)+0.5)/bins - 0.1
		}
	}
	return 0.9
}

// halved is the mean over squares of 2 x 2 px; width and height are even.
func (r raster) halved() raster {
	out := newRaster(r.w/2, r.h/2)
	for y := range out.h {
		a, b := r.v[2*y*r.w:], r.v[(2*y+1)*r.w:]
		for x := range out.w {
			out.v[y*out.w+x] = (a[2*x] + a[2*x+1] + b[2*x] + b[2*x+1]) / 4
		}
	}
	return out
}

// doubled interpolates r to w x h px, twice its own size.
func (r raster) doubled(w, h int) raster {
	wide, out := newRaster(w, r.h), newRaster(w, h)
	for y := range r.h {
		row, to := r.v[y*r.w:(y+1)*r.w], wide.v[y*w:]
		for x := range r.w {
			left, right := row[max(x-1, 0)], row[min(x+1, r.w-1)]
			to[2*x], to[2*x+1] = 0.75*row[x]+0.25*left, 0.75*row[x]+0.25*right
		}
	}
	for y := range r.h {
		row := wide.v[y*w : (y+1)*w]
		up, down := wide.v[max(y-1, 0)*w:], wide.v[min(y+1, r.h-1)*w:]
		for x, v := range row {
			out.v[2*y*w+x], out.v[(2*y+1)*w+x] = 0.75*v+0.25*up[x], 0.75*v+0.25*down[x]
		}
	}
	return out
}
