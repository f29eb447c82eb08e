package ocr

import (
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// A card that was folded has a dark line from edge to edge, as dark as pale pencil. It is told from ink by
// its ends: nobody writes in the outer margin, and no stroke of a pencil runs straight across a card.
const (
	foldMarginMM = 7.0  // where both ends must show
	foldEndMM2   = 0.5  // dark enough to be one
	foldEnds     = 14   // largest pieces in the margins that are tried
	foldShare    = 0.55 // of the line's length that must be dark, print left out
	foldHalfMM   = 0.9  // half of its width
	foldOver     = 70   // thousandths: this much darker than the fold is ink on it
)

// dropFolds takes the lines of folds out of the map: their px become as unknown as print.
func (m *inkMap) dropFolds() {
	w, h := sheetmodel.MM(float64(m.w)/inkPxPerMM), sheetmodel.MM(float64(m.h)/inkPxPerMM)
	margins := []sheetmodel.Rect{
		{W: foldMarginMM, H: h}, {X: w - foldMarginMM, W: foldMarginMM, H: h},
		{X: foldMarginMM, W: w - 2*foldMarginMM, H: foldMarginMM},
		{X: foldMarginMM, Y: h - foldMarginMM, W: w - 2*foldMarginMM, H: foldMarginMM},
	}
	type end struct {
		x, y, area float64
		margin     int
	}
	var ends []end
	for k, r := range margins {
		for _, p := range m.pieces(r) {
			if p.area < foldEndMM2 {
				continue
			}
			e := end{area: p.area, margin: k}
			for _, i := range p.px {
				e.x += float64(i % m.w)
				e.y += float64(i / m.w)
			}
			e.x /= float64(len(p.px))
			e.y /= float64(len(p.px))
			ends = append(ends, e)
		}
	}
	slices.SortStableFunc(ends, func(a, b end) int {
		if a.area > b.area {
			return -1
		}
		return 1
	})
	ends = ends[:min(len(ends), foldEnds)]
	for i, a := range ends {
		for _, b := range ends[i+1:] {
			if a.margin != b.margin {
				m.dropFold(a.x, a.y, b.x, b.y)
			}
		}
	}
}

// dropFold looks along the line from (ax, ay) to (bx, by), in px, and takes it out if it is a fold.
func (m *inkMap) dropFold(ax, ay, bx, by float64) {
	length := math.Hypot(bx-ax, by-ay)
	if length < 60*inkPxPerMM {
		return
	}
	ux, uy := (bx-ax)/length, (by-ay)/length
	half := foldHalfMM * inkPxPerMM
	seen, dark := 0, 0
	var darkness []float64
	for s := 0.0; s < length; s += 2 {
		best, known := int16(math.MinInt16), 0
		inked := false
		for o := -half; o <= half; o++ {
			i, ok := m.index(ax+s*ux-o*uy, ay+s*uy+o*ux)
			if !ok || m.print[i] {
				continue
			}
			known++
			best = max(best, m.dark[i])
			inked = inked || m.level[i] != paper
		}
		if known < int(half) {
			continue
		}
		seen++
		if inked {
			dark++
			darkness = append(darkness, float64(best))
		}
	}
	if seen < 60 || float64(dark) < foldShare*float64(seen) {
		return
	}
	limit := int16(median(darkness)) + foldOver
	for s := -20 * inkPxPerMM; s < length+20*inkPxPerMM; s++ {
		for o := -half; o <= half; o += 0.5 {
			if i, ok := m.index(ax+s*ux-o*uy, ay+s*uy+o*ux); ok && m.level[i] != paper && m.dark[i] < limit {
				m.level[i], m.print[i] = paper, true
			}
		}
	}
}

func (m *inkMap) index(x, y float64) (int, bool) {
	u, v := int(math.Round(x)), int(math.Round(y))
	if u < 0 || v < 0 || u >= m.w || v >= m.h {
		return 0, false
	}
	return v*m.w + u, true
}
