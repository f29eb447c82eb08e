package ocr

import "math"

// A card that was folded has a dark line from edge to edge, as dark as pale pencil. It is told from ink by
// its ends and its length: nobody writes in the outer margin, and no stroke runs straight across a card.
//
// Lines are tried on a net of cells of 0.5 mm, from every cell of one edge to those of the opposite edge
// that lie within foldLeanMM: folds follow the roll of the paper, about along or across the card.
const (
	cellPx       = 3
	foldMarginMM = 7.0  // outside this nothing is written
	foldEdgeMM   = 1.5  // the outermost part of it shows the paper's edge
	foldLeanMM   = 30.0 // from one end to the other
	foldEnds     = 0.35 // share of the cells in each margin that must be dark
	foldShare    = 0.5  // share of all cells, print left out
	foldAbove    = 0.3  // and by so much more than of the side as a whole: grain makes dark cells too
	foldSeen     = 60   // cells that must be left
	foldHalfMM   = 0.9  // half of its width
	foldOver     = 70   // thousandths: this much darker than the fold is ink on it
	foldMost     = 3    // folds of a card
)

// What a cell shows.
const (
	cellPaper = iota
	cellDark
	cellPrint
)

// cells is a coarse view of a map: whether anything dark is in each cell.
type cells struct {
	w, h  int
	state []uint8
}

func (m *inkMap) cells() cells {
	c := cells{w: m.w / cellPx, h: m.h / cellPx}
	c.state = make([]uint8, c.w*c.h)
	for y := range c.h {
		for x := range c.w {
			dark, print := false, 0
			for v := y * cellPx; v < (y+1)*cellPx; v++ {
				for i := v*m.w + x*cellPx; i < v*m.w+(x+1)*cellPx; i++ {
					if m.level[i] != paper {
						dark = true
					} else if m.print[i] {
						print++
					}
				}
			}
			switch {
			case dark:
				c.state[y*c.w+x] = cellDark
			case print > cellPx:
				c.state[y*c.w+x] = cellPrint
			}
		}
	}
	return c
}

// dropFolds takes the lines of folds out of the map: their px become as unknown as print.
func (m *inkMap) dropFolds() {
	for range foldMost {
		c := m.cells()
		best, above := line{}, 0.0
		for _, level := range []bool{false, true} {
			wide := c.widened(level)
			l, share := wide.bestFold(level)
			if a := share - wide.density(); share >= foldShare && a >= foldAbove && a > above {
				best, above = l, a
			}
		}
		if above == 0 {
			return
		}
		m.dropFold(best)
	}
}

// widened makes the neighbours of dark cells dark, above and below if level, else left and right: a fold
// wanders by a cell.
func (c cells) widened(level bool) cells {
	out := cells{w: c.w, h: c.h, state: append([]uint8(nil), c.state...)}
	step := 1
	if level {
		step = c.w
	}
	for i := step; i < len(c.state)-step; i++ {
		if c.state[i] != cellDark && (c.state[i-step] == cellDark || c.state[i+step] == cellDark) {
			out.state[i] = cellDark
		}
	}
	return out
}

// density is the share of dark cells, print left out.
func (c cells) density() float64 {
	dark, seen := 0, 1
	for _, s := range c.state {
		if s == cellDark {
			dark++
		}
		if s != cellPrint {
			seen++
		}
	}
	return float64(dark) / float64(seen)
}

// line goes from (ax, ay) to (bx, by), in px.
type line struct{ ax, ay, bx, by float64 }

// bestFold returns the line from edge to edge that is darkest, and its share of dark cells; from left to
// right if level, else from top to bottom.
func (c cells) bestFold(level bool) (line, float64) {
	across, along := c.w, c.h // cells of an edge, cells from edge to edge
	at := func(s, t int) uint8 { return c.state[t*c.w+s] }
	if level {
		across, along = c.h, c.w
		at = func(s, t int) uint8 { return c.state[s*c.w+t] }
	}
	const perMM = inkPxPerMM / cellPx
	lean := int(foldLeanMM * perMM)
	edge, margin := int(math.Ceil(foldEdgeMM*perMM)), int(foldMarginMM*perMM)
	best, bestShare := line{}, 0.0
	share := func(s0, s1, from, to, step int) (float64, int) {
		dark, seen := 0, 0
		for t := from; t < to; t += step {
			s := s0 + (s1-s0)*t/along
			switch at(s, t) {
			case cellDark:
				dark++
				seen++
			case cellPaper:
				seen++
			}
		}
		if seen == 0 {
			return 0, 0
		}
		return float64(dark) / float64(seen), seen
	}
	for s0 := margin; s0 < across-margin; s0++ {
		for s1 := max(margin, s0-lean); s1 < min(across-margin, s0+lean); s1++ {
			// Margins first: few lines have both ends dark.
			if v, _ := share(s0, s1, edge, margin, 1); v < foldEnds {
				continue
			}
			if v, _ := share(s0, s1, along-margin, along-edge, 1); v < foldEnds {
				continue
			}
			if v, n := share(s0, s1, edge, along-edge, 1); n >= foldSeen && v > bestShare {
				bestShare = v
				best = line{(float64(s0) + 0.5) * cellPx, 0, (float64(s1) + 0.5) * cellPx, float64(along * cellPx)}
				if level {
					best = line{0, best.ax, best.by, best.bx}
				}
			}
		}
	}
	return best, bestShare
}

// dropFold makes the px along a fold unknown, but for those that are clearly darker than the fold itself.
func (m *inkMap) dropFold(l line) {
	length := math.Hypot(l.bx-l.ax, l.by-l.ay)
	ux, uy := (l.bx-l.ax)/length, (l.by-l.ay)/length
	half := foldHalfMM * inkPxPerMM
	var darkness []float64
	each := func(do func(i int)) {
		for s := 0.0; s < length; s++ {
			for o := -half; o <= half; o += 0.5 {
				x, y := int(math.Round(l.ax+s*ux-o*uy)), int(math.Round(l.ay+s*uy+o*ux))
				if x >= 0 && y >= 0 && x < m.w && y < m.h && m.level[y*m.w+x] != paper {
					do(y*m.w + x)
				}
			}
		}
	}
	each(func(i int) { darkness = append(darkness, float64(m.dark[i])) })
	limit := int16(median(darkness)) + foldOver
	each(func(i int) {
		if m.dark[i] < limit {
			m.level[i], m.print[i] = paper, true
		}
	})
	m.folds = append(m.folds, l)
}

// onFold reports whether a px lies on a fold that was taken out.
func (m *inkMap) onFold(x, y int) bool {
	for _, l := range m.folds {
		length := math.Hypot(l.bx-l.ax, l.by-l.ay)
		off := ((float64(x)-l.ax)*(l.by-l.ay) - (float64(y)-l.ay)*(l.bx-l.ax)) / length
		if math.Abs(off) <= foldHalfMM*inkPxPerMM {
			return true
		}
	}
	return false
}
