package hand

import (
	"image"
	"math"

	"gatefold/sheetmodel"
)

// Ink is what has been written on a part of a sheet: for each pixel the share of the paper's grey value
// that is left, 255 for clean paper.
//
// Pixel (x, y) of Factor lies at (MinX+x, MinY+y) of a page at PxPerMM.
type Ink struct {
	PxPerMM    float64
	MinX, MinY int
	W, H       int
	Factor     []uint8
}

// NewInk returns clean ink over area, at least; 20 px/mm show a pencil's grain.
func NewInk(area sheetmodel.Rect, pxPerMM float64) *Ink {
	x0, y0 := int(math.Floor(float64(area.X)*pxPerMM)), int(math.Floor(float64(area.Y)*pxPerMM))
	x1 := int(math.Ceil(float64(area.X+area.W) * pxPerMM))
	y1 := int(math.Ceil(float64(area.Y+area.H) * pxPerMM))
	k := &Ink{PxPerMM: pxPerMM, MinX: x0, MinY: y0, W: max(1, x1-x0), H: max(1, y1-y0)}
	k.Factor = make([]uint8, k.W*k.H)
	for i := range k.Factor {
		k.Factor[i] = 255
	}
	return k
}

// Over darkens paper by the ink. The bounds of paper say which part of the page it is: a whole page at
// the ink's px/mm starts at (0, 0). What lies outside paper is left out.
func (k *Ink) Over(paper *image.Gray) {
	r := paper.Rect.Intersect(image.Rect(k.MinX, k.MinY, k.MinX+k.W, k.MinY+k.H))
	for y := r.Min.Y; y < r.Max.Y; y++ {
		f := k.Factor[(y-k.MinY)*k.W+r.Min.X-k.MinX:]
		p := paper.Pix[paper.PixOffset(r.Min.X, y):]
		for x := range r.Dx() {
			if f[x] != 255 {
				p[x] = uint8((int(p[x])*int(f[x]) + 127) / 255)
			}
		}
	}
}

// Darkest returns the smallest factor inside area, 1 for clean paper.
func (k *Ink) Darkest(area sheetmodel.Rect) float64 {
	least := uint8(255)
	k.each(area, func(f uint8) { least = min(least, f) })
	return float64(least) / 255
}

// Covered returns the area in mm² inside area that is darker than paper by share at least.
func (k *Ink) Covered(area sheetmodel.Rect, share float64) float64 {
	n := 0
	k.each(area, func(f uint8) {
		if float64(f) <= 255*(1-share) {
			n++
		}
	})
	return float64(n) / (k.PxPerMM * k.PxPerMM)
}

func (k *Ink) each(area sheetmodel.Rect, do func(f uint8)) {
	x0 := max(0, int(math.Floor(float64(area.X)*k.PxPerMM))-k.MinX)
	y0 := max(0, int(math.Floor(float64(area.Y)*k.PxPerMM))-k.MinY)
	x1 := min(k.W, int(math.Ceil(float64(area.X+area.W)*k.PxPerMM))-k.MinX)
	y1 := min(k.H, int(math.Ceil(float64(area.Y+area.H)*k.PxPerMM))-k.MinY)
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			do(k.Factor[y*k.W+x])
		}
	}
}
