package ocr

import (
	"image"
	"math"

	"gatefold/sheetmodel"
)

// inkPxPerMM is the resolution at which ink is looked for: a pencil stroke of 0.5 mm is three px wide.
const inkPxPerMM = 6.0

// printTol is how far print may lie from where the layout has it, in mm: three times the median error
// of a straightened page, and the blur of a photo that is still sharp enough.
const printTol = 0.35

// printed is what is known of a side's print at inkPxPerMM.
type printed struct {
	w, h int
	// dark is the darkest print within printTol of each px: 0 is paper, 255 is black.
	dark []uint8
}

// newPrinted takes a blank form, drawn at inkPxPerMM, and makes it as wide as print may wander.
// What differs from card to card (identity, card number) is taken as black all over: no ink is looked
// for there.
func newPrinted(blank *image.Gray, side *sheetmodel.Side) *printed {
	b := blank.Bounds()
	p := &printed{w: b.Dx(), h: b.Dy(), dark: make([]uint8, b.Dx()*b.Dy())}
	for y := range p.h {
		row := blank.Pix[y*blank.Stride:]
		for x := range p.w {
			p.dark[y*p.w+x] = 255 - row[x]
		}
	}
	for _, r := range side.Identity {
		p.cover(r)
	}
	for _, m := range side.Marks {
		p.cover(m.Rect)
	}
	for _, f := range side.Fields {
		if f.Kind == sheetmodel.Printed {
			p.cover(f.Rect)
		}
	}
	for _, it := range side.Print {
		if it.Text != "" && it.ForCard() {
			p.cover(textRoom(it, side.W))
		}
	}
	p.widen(int(math.Round(printTol * inkPxPerMM)))
	return p
}

// textRoom is where a text that differs from card to card can reach: as far as the longest may.
func textRoom(it sheetmodel.PrintItem, w sheetmodel.MM) sheetmodel.Rect {
	const longest = 60 // mm: the race's name in the header
	r := sheetmodel.Rect{X: it.At.X, Y: it.At.Y - 1.3*it.Size, W: longest, H: 1.8 * it.Size}
	switch it.Align {
	case sheetmodel.AlignRight:
		r.X -= longest
	case sheetmodel.AlignCenter:
		r.X -= longest / 2
	case sheetmodel.AlignLeft:
	}
	if r.X < 0 {
		r.W, r.X = r.W+r.X, 0
	}
	r.W = min(r.W, w-r.X)
	return r
}

func (p *printed) cover(r sheetmodel.Rect) {
	x0, y0, x1, y1 := pxSpan(r, p.w, p.h)
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			p.dark[y*p.w+x] = 255
		}
	}
}

// widen spreads the darkest value over reach px to each side.
func (p *printed) widen(reach int) {
	tmp := make([]uint8, len(p.dark))
	for y := range p.h {
		row, out := p.dark[y*p.w:(y+1)*p.w], tmp[y*p.w:(y+1)*p.w]
		for x := range row {
			var m uint8
			for k := max(0, x-reach); k <= min(p.w-1, x+reach); k++ {
				m = max(m, row[k])
			}
			out[x] = m
		}
	}
	for y := range p.h {
		out := p.dark[y*p.w : (y+1)*p.w]
		copy(out, tmp[y*p.w:])
		for k := max(0, y-reach); k <= min(p.h-1, y+reach); k++ {
			for x, v := range tmp[k*p.w : (k+1)*p.w] {
				out[x] = max(out[x], v)
			}
		}
	}
}

// pxSpan returns the px of r at inkPxPerMM, cut to w × h; the end is not part of it.
func pxSpan(r sheetmodel.Rect, w, h int) (x0, y0, x1, y1 int) {
	x0 = max(0, int(math.Round(float64(r.X)*inkPxPerMM)))
	y0 = max(0, int(math.Round(float64(r.Y)*inkPxPerMM)))
	x1 = min(w, int(math.Round(float64(r.X+r.W)*inkPxPerMM)))
	y1 = min(h, int(math.Round(float64(r.Y+r.H)*inkPxPerMM)))
	return x0, y0, max(x0, x1), max(y0, y1)
}
