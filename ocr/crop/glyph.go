package crop

import (
	"math"

	"gatefold/sheetmodel"
)

// glyph finds the ink of a box, without paper and print, and brings it to MNIST's size and place.
func glyph(p Page, box sheetmodel.Rect) ([GlyphSide * GlyphSide]byte, Ink) {
	r := p.window(box, inkW, inkH, inkPxPerMM)
	d, noise := flattened(r)
	for _, e := range findEdges(d, box) {
		e.off(d)
	}
	level := inkLevel(d, box, noise)
	mask, ok := chooseInk(d, box, level)
	ink := Ink{Noise: noise}
	if !ok {
		return [GlyphSide * GlyphSide]byte{}, ink
	}
	ink.measure(d, mask, box, level)
	return normalise(d, mask, level), ink
}

// softened is d under the kernel 1-2-1 both ways: single dark pixels of grain are no ink.
func (r raster) softened() raster {
	t, out := newRaster(r.w, r.h), newRaster(r.w, r.h)
	for y := range r.h {
		for x := range r.w {
			a, b := max(0, x-1), min(r.w-1, x+1)
			row := r.v[y*r.w:]
			t.v[y*r.w+x] = (row[a] + 2*row[x] + row[b]) / 4
		}
	}
	for y := range r.h {
		a, b := max(0, y-1), min(r.h-1, y+1)
		for x := range r.w {
			out.v[y*r.w+x] = (t.v[a*r.w+x] + 2*t.v[y*r.w+x] + t.v[b*r.w+x]) / 4
		}
	}
	return out
}

// threshold holds the darknesses that ink is judged by.
type threshold struct {
	peak float32 // of a stroke's middle
	low  float32 // what belongs to a stroke
	seed float32 // what a stroke must reach somewhere
}

// inkLevel measures how dark the ink in the box is: its darkest half a square millimetre.
func inkLevel(d raster, box sheetmodel.Rect, noise float64) threshold {
	x0, y0, x1, y1 := pxBox(d, box.Grow(-0.5))
	inner := make([]float32, 0, (x1-x0)*(y1-y0))
	for y := y0; y < y1; y++ {
		inner = append(inner, d.v[y*d.w+x0:y*d.w+x1]...)
	}
	const darkest = 0.5 * inkPxPerMM * inkPxPerMM // px
	peak := shareQuantile(inner, 1-math.Min(0.5, darkest/math.Max(1, float64(len(inner)))))
	floor := float32(math.Max(0.018, 2.2*noise))
	return threshold{peak: max(peak, floor), low: max(0.38*peak, 0.8*floor), seed: max(0.6*peak, floor)}
}

// pxBox is the px of box in the window, which has box's middle in its own.
func pxBox(d raster, box sheetmodel.Rect) (x0, y0, x1, y1 int) {
	w, h := float64(box.W)*inkPxPerMM, float64(box.H)*inkPxPerMM
	x0 = max(0, int(math.Round(float64(d.w)/2-w/2)))
	y0 = max(0, int(math.Round(float64(d.h)/2-h/2)))
	x1 = min(d.w, int(math.Round(float64(d.w)/2+w/2)))
	y1 = min(d.h, int(math.Round(float64(d.h)/2+h/2)))
	return x0, y0, max(x0, x1), max(y0, y1)
}

// piece is a connected piece of ink.
type piece struct {
	px       []int
	mass, in float32 // sum of darkness, and of what lies inside the box
	dark     bool    // reaches the seed level
	rim      int     // px in a narrow band along the box's sides
	x0, x1   int     // extent
	y0, y1   int
}

// own reports whether the piece can belong to the box's character.
func (p piece) own() bool {
	return p.dark && float64(len(p.px)) >= leastPiece*inkPxPerMM*inkPxPerMM && p.in >= leastInside*p.mass
}

// rank is the piece's weight among its fellows; what runs along a side may be a rest of the line.
func (p piece) rank() float32 {
	if float64(p.rim) > rimShare*float64(len(p.px)) {
		return 0.2 * p.in
	}
	return p.in
}

// stray reports whether the piece looks like a piece of printed line: long, thin, straight along a side
// of the box and close to it. A lone 1 may be all that too, so it only counts beside other ink.
func (p piece) stray(d raster, box sheetmodel.Rect) bool {
	const thick, long, near = 1.0 * inkPxPerMM, 2.5 * inkPxPerMM, 1.1 * inkPxPerMM
	w, h := float64(p.x1-p.x0+1), float64(p.y1-p.y0+1)
	x0, y0, x1, y1 := pxBox(d, box)
	mx, my := float64(p.x0+p.x1)/2, float64(p.y0+p.y1)/2
	switch {
	case w <= thick && h >= long:
		return math.Min(math.Abs(mx-float64(x0)), math.Abs(mx-float64(x1))) < near
	case h <= thick && w >= long:
		return math.Min(math.Abs(my-float64(y0)), math.Abs(my-float64(y1))) < near
	}
	return false
}

// Which pieces are the character.
const (
	leastInside = 0.5  // share of a piece inside the box: more outside is a neighbour's
	leastShare  = 0.05 // of the heaviest piece's mass
	leastPiece  = 0.12 // mm²
	rimShare    = 0.85 // of a piece's px along the box's sides: a rest of the line
	rimBandMM   = 0.45 // to each side of the box's edge
	ownMarginMM = 0.35 // outside the box that still counts as inside
)

// chooseInk returns the px that belong to the box's character; false when there are none.
func chooseInk(d raster, box sheetmodel.Rect, level threshold) ([]bool, bool) {
	pieces := findPieces(d, box, level)
	heaviest, body := float32(0), float32(0) // body is the heaviest that is no piece of line
	for _, p := range pieces {
		if p.own() {
			heaviest = max(heaviest, p.rank())
			if !p.stray(d, box) {
				body = max(body, p.rank())
			}
		}
	}
	// Beside a digit a piece of line goes; beside specks it may be a 1.
	const speck = 0.25
	lines := body < speck*heaviest
	if !lines {
		heaviest = body
	}
	mask, found := make([]bool, len(d.v)), false
	for _, p := range pieces {
		if !p.own() || p.rank() < leastShare*heaviest || (!lines && p.stray(d, box)) {
			continue
		}
		found = true
		for _, i := range p.px {
			mask[i] = true
		}
	}
	return mask, found
}

// findPieces returns the connected pieces of d above level.low.
func findPieces(d raster, box sheetmodel.Rect, level threshold) []piece {
	x0, y0, x1, y1 := pxBox(d, box.Grow(ownMarginMM))
	rx0, ry0, rx1, ry1 := pxBox(d, box.Grow(-rimBandMM))
	seen := make([]bool, len(d.v))
	var pieces []piece
	for i, v := range d.v {
		if seen[i] || v < level.low {
			continue
		}
		seen[i] = true
		p := piece{px: []int{i}, x0: d.w, y0: d.h}
		for k := 0; k < len(p.px); k++ {
			j := p.px[k]
			x, y := j%d.w, j/d.w
			v := d.v[j]
			p.mass += v
			if x >= x0 && x < x1 && y >= y0 && y < y1 {
				p.in += v
			}
			if x < rx0 || x >= rx1 || y < ry0 || y >= ry1 {
				p.rim++
			}
			p.dark = p.dark || v >= level.seed
			p.x0, p.x1, p.y0, p.y1 = min(p.x0, x), max(p.x1, x), min(p.y0, y), max(p.y1, y)
			for yy := max(0, y-1); yy <= min(d.h-1, y+1); yy++ {
				for xx := max(0, x-1); xx <= min(d.w-1, x+1); xx++ {
					if m := yy*d.w + xx; !seen[m] && d.v[m] >= level.low {
						seen[m] = true
						p.px = append(p.px, m)
					}
				}
			}
		}
		pieces = append(pieces, p)
	}
	return pieces
}

// measure fills in what the chosen ink amounts to.
func (k *Ink) measure(d raster, mask []bool, box sheetmodel.Rect, level threshold) {
	x0, y0, x1, y1 := pxBox(d, box)
	bx0, by0, bx1, by1 := d.w, d.h, -1, -1
	const px = 1 / (inkPxPerMM * inkPxPerMM)
	for i, m := range mask {
		if !m {
			continue
		}
		x, y := i%d.w, i/d.w
		k.MassMM2 += float64(d.v[i]) * px
		k.AreaMM2 += px
		if x < x0 || x >= x1 || y < y0 || y >= y1 {
			k.OutMM2 += px
		}
		bx0, bx1, by0, by1 = min(bx0, x), max(bx1, x), min(by0, y), max(by1, y)
	}
	k.Darker = float64(level.peak)
	k.W, k.H = float64(bx1-bx0+1)/inkPxPerMM, float64(by1-by0+1)/inkPxPerMM
}
