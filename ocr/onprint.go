package ocr

import (
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// A stroke that lies along a printed line is hidden by it: a 1 on the line between two boxes of a comb leaves another,
// shorter number, and nothing in the ink map tells. What it does leave is a line that is broader or darker over a
// stroke's length than it is elsewhere, and than its like are in other rows.
const (
	onLineMM    = 0.9  // to each side of a line is looked at: what print hides, and a stroke that reaches out of it
	onLineRim   = 0.9  // mm off a box's upper and lower edge
	onLineLong  = 2.4  // mm a stroke is long, at least
	onLineLow   = 0.3  // of a line's height is surely free
	onLineLike  = 5    // fewer of a kind do not tell how one looks,
	onLineFew   = 12   // nor fewer in all how they differ
	onLineSide  = 0.4  // mm from there, and
	onLineAlong = 0.7  // mm up and down, that ink which is seen keeps what the line hides from being another stroke
	onLineCap   = 250  // thousandths: what is darker tells of the line itself, and no more of a stroke beside it
	onLineOdd   = 10.0 // standard deviations of two figures together
	onLineLeast = 4.0  // and so much ink, thousandths × mm, across the line
)

// onALine says what a person is asked about.
const onALine = "a stroke may lie on one of the lines of its boxes, which hides it"

// seenOnLine reports whether a stroke on one of a comb's upright lines is among the ink that is seen: then it is read, or the
// number has more characters than were read.
func (m *inkMap) seenOnLine(c comb) bool {
	f := c.field
	for _, p := range c.ink.around {
		if r := p.rect(); r.H < onLineLong || m.within(p, f.Rect.Grow(onLineMM)) < 0.5*p.area {
			continue
		}
		for k := 0; k <= f.Boxes; k++ {
			x := f.Rect.X + f.Rect.W*sheetmodel.MM(k)/sheetmodel.MM(f.Boxes)
			if m.within(p, sheetmodel.Rect{X: x - onLineMM, Y: f.Rect.Y - onLineMM, W: 2 * onLineMM, H: f.Rect.H + 2*onLineMM}) >= 0.5*p.area {
				return true
			}
		}
	}
	return false
}

// lineFigure is how one upright line of a comb looks, thousandths × mm of darkness across it that print does not explain.
type lineFigure struct {
	ofField  string
	part     sheetmodel.Part
	line     int     // of the comb, from its left end
	most     float64 // mean over the darkest stroke's length
	contrast float64 // that, beyond the line's own paler part
}

// onLines says which combs may have a stroke on one of their upright lines, by name. combs are all of a side, with their ink.
func (m *inkMap) onLines(combs []comb) map[string]bool {
	var figures []lineFigure
	for _, c := range combs {
		f := c.field
		for k := 0; k <= f.Boxes; k++ {
			x := f.Rect.X + f.Rect.W*sheetmodel.MM(k)/sheetmodel.MM(f.Boxes)
			if g, ok := m.lineFigureOf(x, f.Rect, c.ink.around); ok {
				g.ofField, g.part, g.line = f.Name, f.Part, k
				figures = append(figures, g)
			}
		}
	}
	figures = levelled(figures)
	if len(figures) < onLineFew {
		return nil
	}
	var most, contrast []float64
	for _, g := range figures {
		most, contrast = append(most, g.most), append(contrast, g.contrast)
	}
	spread := func(v []float64) float64 {
		s := slices.Sorted(slices.Values(v))
		return math.Max((at(s, oddMid)-at(s, oddLow))/oddWide, leastSpread)
	}
	mostSpread, contrastSpread := spread(most), spread(contrast)
	found := map[string]bool{}
	for _, g := range figures {
		odd := g.most/mostSpread + g.contrast/contrastSpread
		if odd > onLineOdd && g.contrast > onLineLeast {
			found[g.ofField] = true
		}
	}
	return found
}

// levelled takes off what lines in the same place of combs of the same part have in common, and leaves out those with too
// few like them: beside an outer line there may be another.
func levelled(figures []lineFigure) []lineFigure {
	type kind struct {
		part sheetmodel.Part
		line int
	}
	like := map[kind][]lineFigure{}
	for _, g := range figures {
		k := kind{g.part, g.line}
		like[k] = append(like[k], g)
	}
	var out []lineFigure
	for _, g := range figures {
		same := like[kind{g.part, g.line}]
		if len(same) < onLineLike {
			continue
		}
		var most, contrast []float64
		for _, s := range same {
			most, contrast = append(most, s.most), append(contrast, s.contrast)
		}
		slices.Sort(most)
		slices.Sort(contrast)
		g.most, g.contrast = g.most-at(most, oddMid), g.contrast-at(contrast, oddMid)
		out = append(out, g)
	}
	return out
}

// lineFigureOf looks along the line at x of a comb; ink that is seen beside it does not count.
func (m *inkMap) lineFigureOf(x sheetmodel.MM, comb sheetmodel.Rect, seen []piece) (lineFigure, bool) {
	x0, y0, x1, y1 := pxSpan(sheetmodel.Rect{X: x - onLineMM, Y: comb.Y + onLineRim, W: 2 * onLineMM, H: comb.H - 2*onLineRim}, m.w, m.h)
	const skipped = math.MaxFloat64
	near := make([]bool, y1-y0) // ink that is seen: what the line hides may be its
	side, long := int(math.Round(onLineSide*inkPxPerMM)), int(math.Round(onLineAlong*inkPxPerMM))
	for _, p := range seen {
		for _, i := range p.px {
			if u, y := i%m.w, i/m.w; u >= x0-side && u < x1+side {
				for v := max(y-long, y0); v < min(y+long+1, y1); v++ {
					near[v-y0] = true
				}
			}
		}
	}
	var across []float64
	for y := y0; y < y1; y++ {
		sum := 0.0
		if near[y-y0] {
			across = append(across, skipped)
			continue
		}
		for u := x0; u < x1; u++ {
			i := y*m.w + u
			sum += float64(min(m.dark[i], onLineCap)) - float64(min(m.plain[i], onLineCap))
		}
		across = append(across, sum/inkPxPerMM)
	}
	long = int(math.Round(onLineLong * inkPxPerMM))
	var free, windows []float64
	for _, v := range across {
		if v != skipped {
			free = append(free, v)
		}
	}
	for i := 0; i+long <= len(across); i++ {
		sum := 0.0
		for _, v := range across[i : i+long] {
			sum += v / float64(long)
		}
		if sum < skipped/1e6 {
			windows = append(windows, sum)
		}
	}
	if len(windows) == 0 {
		return lineFigure{}, false
	}
	slices.Sort(free)
	most := slices.Max(windows)
	return lineFigure{most: most, contrast: most - at(free, onLineLow)}, true
}
