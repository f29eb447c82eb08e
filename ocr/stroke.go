package ocr

import (
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// strokes is what the ink of one box is made of, before anybody asks which digit it is. Lengths are mm.
type strokes struct {
	area          float64 // mm²
	w, h          float64 // of the ink
	length        float64 // of the strokes' middle lines
	ends, joints  int     // of the middle lines
	holes         int     // paper shut in by ink
	width, bulge  float64 // of the strokes: the middle of it, and where they are widest
	pale, mid     float64 // darkness along the middle lines, thousandths: their tenth and their middle
	dark, darkest float64 // their three quarters and nineteen twentieths
	apart         float64 // of the two layers that tell the darkness best apart, share of the middle
	rows, cols    float64 // strokes crossed on the way through, mean of the busiest quarter
}

// strokesOf measures the ink px, indices into the map. The zero value says that there is too little.
func (m *inkMap) strokesOf(px []int) strokes {
	const least = 12
	if len(px) < least {
		return strokes{}
	}
	g := m.cutOut(px)
	s := strokes{area: float64(len(px)) * pxMM2, w: float64(g.w-2) / inkPxPerMM, h: float64(g.h-2) / inkPxPerMM}
	s.rows, s.cols = g.crossed()
	s.holes = g.shutIn()
	depth := g.depth()
	line := g.thinned()
	var widths, darks []float64
	for y := 1; y < g.h-1; y++ {
		for x := 1; x < g.w-1; x++ {
			i := y*g.w + x
			if !line.ink[i] {
				continue
			}
			widths = append(widths, 2*depth[i]/inkPxPerMM)
			at := (y-1+g.y0)*m.w + x - 1 + g.x0
			if m.plain[at] < printNone {
				darks = append(darks, float64(m.dark[at]))
			}
		}
	}
	s.length, s.ends, s.joints = line.follow()
	slices.Sort(widths)
	slices.Sort(darks)
	s.width, s.bulge = share(widths, 0.5), share(widths, 0.95)
	s.pale, s.mid, s.dark, s.darkest = share(darks, 0.1), share(darks, 0.5), share(darks, 0.75), share(darks, 0.95)
	s.apart = layersApart(darks) / math.Max(1, s.mid)
	return s
}

// share returns the q-quantile of sorted values.
func share(sorted []float64, q float64) float64 {
	if len(sorted) == 0 {
		return 0
	}
	return sorted[min(int(q*float64(len(sorted))), len(sorted)-1)]
}

// layersApart splits sorted values in two where they differ most (Otsu 1979) and returns the distance of
// the two means, less what evenly spread values would give.
func layersApart(sorted []float64) float64 {
	n := len(sorted)
	if n < 8 {
		return 0
	}
	total := 0.0
	for _, v := range sorted {
		total += v
	}
	best, gap, low := 0.0, 0.0, 0.0
	for i := range n - 1 {
		low += sorted[i]
		a, b := float64(i+1), float64(n-i-1)
		d := (total-low)/b - low/a
		if v := a * b * d * d; v > best {
			best, gap = v, d
		}
	}
	return gap - (sorted[n-1]-sorted[0])/2
}

// ofBox returns the px of the pieces that stand in box i of n: a piece no wider than a character belongs
// to the box of its middle, a wider one is cut at the lines.
func (m *inkMap) ofBox(own []piece, comb sheetmodel.Rect, i, n int) []int {
	const oneWide = 1.3
	x0, _, x1, _ := pxSpan(comb.Box(i, n), m.w, m.h)
	boxW := float64(comb.W) * inkPxPerMM / float64(n)
	var px []int
	for _, p := range own {
		if float64(p.x1-p.x0) <= oneWide*boxW {
			if mid := (p.x0 + p.x1) / 2; (mid >= x0 || i == 0) && (mid < x1 || i == n-1) {
				px = append(px, p.px...)
			}
			continue
		}
		for _, k := range p.px {
			if x := k % m.w; (x >= x0 || i == 0) && (x < x1 || i == n-1) {
				px = append(px, k)
			}
		}
	}
	return px
}
