package crop

import (
	"image"
	"math"

	"gatefold/sheetmodel"
)

// Page is a straightened page of 8-bit grey pixels, or a part of one. Pix stays the caller's, unchanged.
type Page struct {
	Pix     []byte
	Stride  int // bytes from row to row
	W, H    int // px
	PxPerMM float64
	// OriginX and OriginY say which pixel of the whole page Pix begins at; 0, 0 for a whole page.
	OriginX, OriginY int
}

// FromGray returns img as a page; its bounds say which part of the page it is.
func FromGray(img *image.Gray, pxPerMM float64) Page {
	return Page{
		Pix: img.Pix, Stride: img.Stride, W: img.Rect.Dx(), H: img.Rect.Dy(), PxPerMM: pxPerMM,
		OriginX: img.Rect.Min.X, OriginY: img.Rect.Min.Y,
	}
}

// raster is a grey picture of w x h float values, row by row.
type raster struct {
	v    []float32
	w, h int
}

func newRaster(w, h int) raster { return raster{v: make([]float32, w*h), w: w, h: h} }

// window resamples the part of the page around the middle of box to w x h px at pxPerMM; each pixel is
// the mean over its own area. Beyond the page's edge the edge is repeated.
func (p Page) window(box sheetmodel.Rect, w, h int, pxPerMM float64) raster {
	c := box.Center()
	// Edges of the window in page px, where pixel i covers i to i+1.
	s := p.PxPerMM / pxPerMM
	x0 := float64(c.X)*p.PxPerMM - float64(p.OriginX) - float64(w)/2*s
	y0 := float64(c.Y)*p.PxPerMM - float64(p.OriginY) - float64(h)/2*s
	xs, ys := spans(x0, s, w, p.W), spans(y0, s, h, p.H)
	out := newRaster(w, h)
	first, last := ys[0].first, ys[h-1].first+len(ys[h-1].weight)-1
	rows := make([]float32, (last-first+1)*w)
	for y := first; y <= last; y++ {
		line := p.Pix[min(max(y, 0), p.H-1)*p.Stride:]
		row := rows[(y-first)*w : (y-first+1)*w]
		for x := range row {
			sum := float32(0)
			for k, weight := range xs[x].weight {
				sum += weight * float32(line[min(max(xs[x].first+k, 0), p.W-1)])
			}
			row[x] = sum
		}
	}
	for y := range h {
		for k, weight := range ys[y].weight {
			row := rows[(ys[y].first+k-first)*w:]
			for x := range w {
				out.v[y*w+x] += weight * row[x]
			}
		}
	}
	return out
}

// span is the run of source pixels under one target pixel, with weights that sum to 1.
type span struct {
	first  int
	weight []float32
}

// spans returns the span of each of n target pixels of width s that begin at x0. Where the target is
// finer than the source, the kernel is a triangle one source pixel wide to each side instead of a box.
// Spans far outside the size source pixels are moved to the edge.
func spans(x0, s float64, n, size int) []span {
	out := make([]span, n)
	for i := range out {
		a, b := x0+float64(i)*s, x0+float64(i+1)*s
		if s < 1 {
			m := (a + b) / 2
			a, b = m-0.5, m+0.5 // a unit box over source pixels is linear interpolation
		}
		a = math.Max(-1, math.Min(a, float64(size)))
		b = math.Max(a+1e-3, math.Min(b, float64(size)+1))
		first, last := int(math.Floor(a)), int(math.Ceil(b))
		w := make([]float32, 0, last-first)
		for k := first; k < last; k++ {
			w = append(w, float32((math.Min(b, float64(k+1))-math.Max(a, float64(k)))/(b-a)))
		}
		out[i] = span{first: first, weight: w}
	}
	return out
}
