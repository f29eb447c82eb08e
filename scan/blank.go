package scan

import (
	"image"
	"math"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// blankPxPerMM is the resolution at which print is matched: two px to the thinnest printed line,
// and about what a photo still shows of it.
const blankPxPerMM = 5.0

// blank is a side as printed, nothing written: ink 0 (paper) to 1 (black), and which px tell of print
// that every such card carries.
type blank struct {
	w, h int
	ink  []float32
	near []bool // within nearPrint mm of print
}

// Writing mostly lies farther than this from printed lines; what lies nearer is outvoted.
const nearPrint = 0.9 // mm

func newBlank(img *image.Gray, ignore []sheetmodel.Rect) *blank {
	b := &blank{w: img.Rect.Dx(), h: img.Rect.Dy()}
	b.ink = make([]float32, b.w*b.h)
	b.near = make([]bool, b.w*b.h)
	for y := range b.h {
		for x := range b.w {
			b.ink[y*b.w+x] = 1 - float32(img.Pix[y*img.Stride+x])/255
		}
	}
	reach := int(math.Round(nearPrint * blankPxPerMM))
	for y := range b.h {
		for x := range b.w {
			if b.ink[y*b.w+x] < 0.15 {
				continue
			}
			for v := max(0, y-reach); v <= min(b.h-1, y+reach); v++ {
				for u := max(0, x-reach); u <= min(b.w-1, x+reach); u++ {
					b.near[v*b.w+u] = true
				}
			}
		}
	}
	for _, r := range ignore {
		b.mask(r)
	}
	b.soften()
	return b
}

// mask takes a place out that differs from card to card.
func (b *blank) mask(r sheetmodel.Rect) {
	x0, y0 := int(float64(r.X)*blankPxPerMM), int(float64(r.Y)*blankPxPerMM)
	x1, y1 := int(float64(r.X+r.W)*blankPxPerMM)+1, int(float64(r.Y+r.H)*blankPxPerMM)+1
	for y := max(0, y0); y < min(b.h, y1); y++ {
		for x := max(0, x0); x < min(b.w, x1); x++ {
			b.near[y*b.w+x] = false
		}
	}
}

// soften blurs the print as a good photo does (0.17 mm): steps in print would match at whole px only.
func (b *blank) soften() {
	kernel := [5]float32{0.07, 0.24, 0.38, 0.24, 0.07}
	tmp := make([]float32, len(b.ink))
	for pass := range 2 {
		from, to, step, n, line := b.ink, tmp, 1, b.w, b.w
		if pass == 1 {
			from, to, step, n = tmp, b.ink, b.w, b.h
			line = 1
		}
		lines := len(from) / n
		for l := range lines {
			base := l * line
			for i := range n {
				var sum float32
				for k, w := range kernel {
					sum += w * from[base+step*min(max(i+k-2, 0), n-1)]
				}
				to[base+step*i] = sum
			}
		}
	}
}

// drawBlank draws what every card of the layout shares on this side.
func drawBlank(side *sheetmodel.Side) *blank {
	return newBlank(print.RasterBlank(side, blankPxPerMM), side.Identity)
}
