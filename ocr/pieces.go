package ocr

import (
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// piece is ink that hangs together, as far as can be seen: two parts on both sides of a printed line
// count as one if they face each other across it.
type piece struct {
	px             []int // indices into the map
	area           float64
	x0, y0, x1, y1 int   // px, the end is not part of it
	peak           int16 // its darkest px, thousandths
	seeds          int   // px at the level of seeds
}

// Which ink counts at all.
const (
	leastPieceMM2 = 0.16 // less is a speck of dust or grain
	leastSeeds    = 3    // px
	paleStroke    = 0.9  // mm²: so much together is a stroke, however pale; grain makes smaller spots
	bridgePx      = 8    // 1.3 mm: the widest printed line with its tolerance
	pxMM2         = 1 / (inkPxPerMM * inkPxPerMM)
)

// pieces returns the pieces of ink in area, cut off at its edges, top left first.
func (m *inkMap) pieces(area sheetmodel.Rect) []piece {
	x0, y0, x1, y1 := pxSpan(area, m.w, m.h)
	w := x1 - x0
	if w <= 0 || y1 <= y0 {
		return nil
	}
	labels := newLabels(w * (y1 - y0))
	at := func(x, y int) int { return (y-y0)*w + x - x0 }
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			if m.level[y*m.w+x] == paper {
				continue
			}
			i := at(x, y)
			labels.add(i)
			for _, n := range [4][2]int{{x - 1, y}, {x - 1, y - 1}, {x, y - 1}, {x + 1, y - 1}} {
				if n[0] >= x0 && n[0] < x1 && n[1] >= y0 && m.level[n[1]*m.w+n[0]] != paper {
					labels.join(i, at(n[0], n[1]))
				}
			}
			if m.bridged(x, y, 0, -1, y-y0, func(u, v int) { labels.join(i, at(u, v)) }) {
				continue
			}
			m.bridged(x, y, -1, 0, x-x0, func(u, v int) { labels.join(i, at(u, v)) })
		}
	}
	return m.collect(labels, x0, y0, x1, y1)
}

// bridged looks from an ink px across print, in direction (dx, dy) and at most room px far, for ink on
// the other side, and joins the two.
func (m *inkMap) bridged(x, y, dx, dy, room int, join func(u, v int)) bool {
	u, v := x+dx, y+dy
	for k := 1; k <= min(bridgePx, room); k++ {
		i := v*m.w + u
		if m.level[i] != paper {
			if k > 1 {
				join(u, v)
			}
			return k > 1
		}
		if !m.print[i] {
			return false
		}
		u, v = u+dx, v+dy
	}
	return false
}

func (m *inkMap) collect(l *labels, x0, y0, x1, y1 int) []piece {
	found := map[int]*piece{}
	var order []int
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			i := y*m.w + x
			if m.level[i] == paper {
				continue
			}
			root := l.find((y-y0)*(x1-x0) + x - x0)
			p, ok := found[root]
			if !ok {
				p = &piece{x0: x, y0: y, x1: x + 1, y1: y + 1}
				found[root] = p
				order = append(order, root)
			}
			p.px = append(p.px, i)
			p.area += pxMM2
			p.peak = max(p.peak, m.dark[i])
			p.x0, p.x1, p.y1 = min(p.x0, x), max(p.x1, x+1), max(p.y1, y+1)
			if m.level[i] == seed {
				p.seeds++
			}
		}
	}
	var out []piece
	area, seeds := leastPieceMM2, leastSeeds
	if m.noise > goodNoise {
		area, seeds = 2*leastPieceMM2, 2*leastSeeds-1 // grain comes in larger spots
	}
	for _, root := range order {
		if p := found[root]; p.area >= area && (p.seeds >= seeds || p.area >= paleStroke) {
			out = append(out, *p)
		}
	}
	return out
}

// What grain can look like on a grainy page: pale spots, the larger the more grain. The palest pencil that
// is still ink is darker, or longer, though it may lie in parts.
const (
	grainMM    = 1.7  // longest side, at least
	grainReach = 0.23 // of it in mm, for each thousandth of noise
	grainPeak  = 5.5  // deviations
	grainWhole = 2.0  // mm², all spots of a field together, at least
	grainArea  = 0.21 // of it in mm², for each thousandth of noise
)

// grain reports whether a piece may be a spot of the page's grain.
func (m *inkMap) grain(p piece) bool {
	return m.noise > goodNoise && p.extent() < math.Max(grainMM, grainReach*m.noise) &&
		float64(p.peak) < math.Max(faintDark, grainPeak*m.noise)
}

// mostGrain is how much ink of a field may be grain, mm².
func (m *inkMap) mostGrain() float64 { return math.Max(grainWhole, grainArea*m.noise) }

// within returns the area of the piece inside r, in mm².
func (m *inkMap) within(p piece, r sheetmodel.Rect) float64 {
	x0, y0, x1, y1 := pxSpan(r, m.w, m.h)
	n := 0
	for _, i := range p.px {
		if x, y := i%m.w, i/m.w; x >= x0 && x < x1 && y >= y0 && y < y1 {
			n++
		}
	}
	return float64(n) * pxMM2
}

// extent is the longer side of the piece's box in mm.
func (p piece) extent() float64 { return float64(max(p.x1-p.x0, p.y1-p.y0)) / inkPxPerMM }

// rect is the piece's box on the sheet.
func (p piece) rect() sheetmodel.Rect {
	return sheetmodel.Rect{
		X: sheetmodel.MM(float64(p.x0) / inkPxPerMM), Y: sheetmodel.MM(float64(p.y0) / inkPxPerMM),
		W: sheetmodel.MM(float64(p.x1-p.x0) / inkPxPerMM), H: sheetmodel.MM(float64(p.y1-p.y0) / inkPxPerMM),
	}
}

// labels is a union-find over the px of a window; -1 is no ink.
type labels struct{ parent []int32 }

func newLabels(n int) *labels {
	return &labels{parent: slices.Repeat([]int32{-1}, n)}
}

func (l *labels) add(i int) { l.parent[i] = int32(i) }

func (l *labels) find(i int) int {
	for int(l.parent[i]) != i {
		l.parent[i] = l.parent[l.parent[i]]
		i = int(l.parent[i])
	}
	return i
}

func (l *labels) join(i, j int) {
	if l.parent[i] < 0 || l.parent[j] < 0 {
		return
	}
	a, b := l.find(i), l.find(j)
	l.parent[max(a, b)] = int32(min(a, b))
}

func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	s := slices.Clone(v)
	slices.Sort(s)
	return s[len(s)/2]
}
