package ocr

import (
	"slices"

	"gatefold/sheetmodel"
)

// A pale mark across the letter printed in a box hides in two ways: print may be darker than the layout has it, so
// that ink over it shows only if it is much darker; and a box's mean, see excess, takes up every shade. What tells
// such a mark is that its box looks unlike the boxes with the same letter in the other rows. These are laid over each
// other, px by px; what a box has beyond them is the mark, its grain, and how the page lies a little differently there.
const (
	oddRim  = 0.45 // mm off a box's edge, where outlines move
	oddRows = 6    // fewer rows don't tell how a letter looks
	oddBase = 0.30 // this share of a box is surely paper: what is darker than that is looked at
	oddSide = 2    // px to each side of the spot that is taken together
	oddTop  = 0.15 // of a box's px: its darkest ones
	oddMid  = 0.40 // of boxes: below the middle, for some are marked
	oddLow  = 0.05
	oddWide = 1.4 // standard deviations between the last two, as if spread normally
	// oddLeast bounds the sum of two figures, each in standard deviations. On 30 hard photos of dense sheets 2 of 411 marks
	// were below, and of 780 rows 4 without a mark above; with ten rows to compare, 1 of 325 and 18 of 600.
	oddLeast = 11.0
)

// oddOf says for each panel box how far it is from its like; rows holds the boxes of each row, by letter.
func (m *inkMap) oddOf(rows [][]sheetmodel.Rect) map[sheetmodel.Rect]float64 {
	odd := map[sheetmodel.Rect]float64{}
	if len(rows) < oddRows {
		return odd
	}
	var boxes []sheetmodel.Rect
	var spots, tops []float64 // two figures a box
	n := len(rows[0])
	for k := range n {
		patches := make([][]float64, len(rows))
		w := 0
		for j, r := range rows {
			if len(r) != n {
				return odd
			}
			patches[j], w = m.patchOf(r[k].Grow(-oddRim), rows[0][k].Grow(-oddRim))
		}
		usual := quantilePatch(patches, oddMid)
		for j, p := range patches {
			for i := range p {
				p[i] -= usual[i]
			}
			spot, top := oddness(p, w)
			boxes, spots, tops = append(boxes, rows[j][k]), append(spots, spot), append(tops, top)
		}
	}
	for _, v := range [][]float64{spots, tops} {
		s := slices.Sorted(slices.Values(v))
		spread := max((at(s, oddMid)-at(s, oddLow))/oddWide, leastSpread)
		for k := range n { // letters differ in how well they are known
			letter := v[k*len(rows) : (k+1)*len(rows)]
			usual := at(slices.Sorted(slices.Values(letter)), oddMid)
			for j := range letter {
				odd[boxes[k*len(rows)+j]] += (letter[j] - usual) / spread
			}
		}
	}
	return odd
}

// patchOf returns the darkness of a box as large as like, in px about its middle, and its width.
func (m *inkMap) patchOf(box, like sheetmodel.Rect) ([]float64, int) {
	w, h := int(float64(like.W)*inkPxPerMM), int(float64(like.H)*inkPxPerMM)
	c := box.Center()
	x0, y0 := int(float64(c.X)*inkPxPerMM)-w/2, int(float64(c.Y)*inkPxPerMM)-h/2
	out := make([]float64, 0, w*h)
	for y := y0; y < y0+h; y++ {
		for x := x0; x < x0+w; x++ {
			i := min(max(y, 0), m.h-1)*m.w + min(max(x, 0), m.w-1)
			out = append(out, float64(m.dark[i]))
		}
	}
	return out, w
}

// quantilePatch returns the q-quantile of equal patches at each px.
func quantilePatch(patches [][]float64, q float64) []float64 {
	out := make([]float64, len(patches[0]))
	v := make([]float64, len(patches))
	for i := range out {
		for j, p := range patches {
			v[j] = p[i]
		}
		slices.Sort(v)
		out[i] = at(v, q)
	}
	return out
}

// oddness returns how dark the darkest spot of a patch is, and the mean of its darkest px, over its paper.
func oddness(p []float64, w int) (spot, top float64) {
	s := slices.Sorted(slices.Values(p))
	base := at(s, oddBase)
	dark := s[int((1-oddTop)*float64(len(s))):]
	for _, v := range dark {
		top += (v - base) / float64(len(dark))
	}
	const side = 2*oddSide + 1
	for y := oddSide; y+oddSide < len(p)/w; y++ {
		for x := oddSide; x+oddSide < w; x++ {
			sum := 0.0
			for v := y - oddSide; v <= y+oddSide; v++ {
				for _, d := range p[v*w+x-oddSide : v*w+x+oddSide+1] {
					sum += d - base
				}
			}
			spot = max(spot, sum/(side*side))
		}
	}
	return spot, top
}

// at returns the q-quantile of sorted values.
func at(sorted []float64, q float64) float64 { return sorted[int(q*float64(len(sorted)))] }
