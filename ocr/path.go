package ocr

import (
	"math"

	"gatefold/sheetmodel"
)

// Judges sketch the gates into every panel beforehand, so ink in a panel proves no drawing of a fault. What
// tells is ink beyond the sketch: strokes that the same card's panels without a bib don't have in their place.
//
// Panels are laid over each other, shifted by a few mm for a sketch that was drawn a little higher or to the
// side; ink of one that has ink of the other nearby is sketch, the rest is beyond it. Nothing here proves a
// path either, it only finds panels where a judge should be asked for one: a path is a stroke of some length
// that goes where no gate stands.

const (
	pathCellPx   = 3    // 0.5 mm
	nearSketchMM = 2.5  // a gate drawn again lies this close to itself, after shifting
	shiftMM      = 4.0  // a whole sketch drawn again may lie this far off, and 1 mm more
	shiftStepMM  = 2.0  // steps tried, then 1 mm around the best
	leastPathMM2 = 5.0  // ink beyond the sketch, less is no path
	leastSketch  = 2.0  // mm², ink of a panel that can be a sketch
	withLine     = 1.25 // a path makes a panel this much fuller than the panel of the gates with the usual line
)

// mask says where a panel has ink, in cells of pathCellPx, its top left cell first.
type mask struct {
	w, h int
	on   []bool
	n    int
}

func (k *mask) mm2(n int) float64 {
	const side = pathCellPx / inkPxPerMM
	return float64(n) * side * side
}

// maskOf takes a panel's ink: a cell is on if a third of it is ink, so that stroke widths matter little.
func (m *inkMap) maskOf(r sheetmodel.Rect) *mask {
	x0, y0, x1, y1 := pxSpan(r, m.w, m.h)
	k := &mask{w: (x1 - x0) / pathCellPx, h: (y1 - y0) / pathCellPx}
	k.on = make([]bool, max(k.w*k.h, 0))
	count := make([]int, len(k.on))
	for _, p := range m.pieces(r) {
		if m.grain(p) {
			continue
		}
		for _, i := range p.px {
			x, y := (i%m.w-x0)/pathCellPx, (i/m.w-y0)/pathCellPx
			if x >= 0 && x < k.w && y >= 0 && y < k.h {
				count[y*k.w+x]++
			}
		}
	}
	for i, c := range count {
		if c*3 >= pathCellPx*pathCellPx {
			k.on[i] = true
			k.n++
		}
	}
	return k
}

// beyond returns the cells of k that have no ink of sketch nearby, at the shift that leaves the fewest.
// Both are laid foot on foot: the panel of the gates may be taller.
func (k *mask) beyond(sketch *mask) []int {
	reach := sketch.reach(nearSketchMM)
	var best []int
	found := false
	try := func(sx, sy int) (better bool) {
		left := make([]int, 0, 64)
		for i, on := range k.on {
			if !on {
				continue
			}
			x, y := i%k.w+sx, i/k.w+sy+sketch.h-k.h
			if x < 0 || x >= sketch.w || y < 0 || y >= sketch.h || !reach[y*sketch.w+x] {
				left = append(left, i)
			}
			if found && len(left) >= len(best) {
				return false
			}
		}
		best, found = left, true
		return true
	}
	const mm = inkPxPerMM / pathCellPx
	bestX, bestY := 0, 0
	for sy := -shiftMM; sy <= shiftMM; sy += shiftStepMM {
		for sx := -shiftMM; sx <= shiftMM; sx += shiftStepMM {
			if try(int(sx*mm), int(sy*mm)) {
				bestX, bestY = int(sx*mm), int(sy*mm)
			}
		}
	}
	fromX, fromY := bestX, bestY
	for _, d := range [8][2]int{{-1, -1}, {0, -1}, {1, -1}, {-1, 0}, {1, 0}, {-1, 1}, {0, 1}, {1, 1}} {
		try(fromX+d[0]*int(mm), fromY+d[1]*int(mm))
	}
	return best
}

// reach is the mask grown by some mm to all sides.
func (k *mask) reach(mm float64) []bool {
	r := int(math.Round(mm * inkPxPerMM / pathCellPx))
	out := make([]bool, len(k.on))
	for i, on := range k.on {
		if !on {
			continue
		}
		for dy := -r; dy <= r; dy++ {
			for dx := -r; dx <= r; dx++ {
				x, y := i%k.w+dx, i/k.w+dy
				if dx*dx+dy*dy <= r*r && x >= 0 && x < k.w && y >= 0 && y < k.h {
					out[y*k.w+x] = true
				}
			}
		}
	}
	return out
}

// panel is one drawing panel of a side.
type panel struct {
	field sheetmodel.Field
	ink   *mask
	strip bool // a bib stands under it
	gates bool // it has no strip: it is for the gates as set
}

// doubtPaths looks at the drawings of all panels but that of the gates. Where a bib stands under a panel and
// nothing in it goes beyond the gates as sketched elsewhere on the side, the drawing is doubtful. Where strokes
// do go beyond, the Reading's region is theirs. Without a sketch to compare with, nothing is said.
func doubtPaths(pg *page, read map[string]sheetmodel.Reading) {
	var panels []*panel
	byLetter := map[string]*panel{}
	for _, f := range pg.side.Fields {
		if f.Kind == sheetmodel.Drawing && f.Part == sheetmodel.PartDrawing && f.Panel != "" {
			p := &panel{field: f, gates: true}
			panels, byLetter[f.Panel] = append(panels, p), p
		}
	}
	for _, f := range pg.side.Fields {
		if p := byLetter[f.Panel]; p != nil && f.Part == sheetmodel.PartBib {
			p.gates = false
			p.strip = p.strip || read[f.Name].State != sheetmodel.Empty
		}
	}
	var sketches []*panel
	for _, p := range panels {
		p.ink = pg.ink.maskOf(p.field.Rect)
		if (p.gates || !p.strip) && p.ink.mm2(p.ink.n) >= leastSketch {
			sketches = append(sketches, p)
		}
	}
	for _, p := range panels {
		x, ok := read[p.field.Name]
		if !ok || p.gates || x.State == sheetmodel.Empty {
			continue
		}
		var extra []int
		said := false
		for _, s := range sketches {
			if s == p {
				continue
			}
			left := p.ink.beyond(s.ink)
			if s.gates && p.ink.mm2(p.ink.n) > withLine*s.ink.mm2(s.ink.n) && p.ink.mm2(len(left)) < leastPathMM2 {
				continue // the usual line of panel A lies where a path may run
			}
			if !said || len(left) < len(extra) {
				extra, said = left, true
			}
		}
		if !said {
			continue
		}
		if p.ink.mm2(len(extra)) < leastPathMM2 {
			if p.strip {
				x.Doubt(sheetmodel.DoubtNoPath, "nothing but the gates is seen: is there a path?")
			}
		} else {
			x.Region = regionOf(p.field.Rect, p.ink, extra)
		}
		read[p.field.Name] = x
	}
}

// regionOf is what some cells of a panel's mask cover.
func regionOf(r sheetmodel.Rect, k *mask, cells []int) sheetmodel.Rect {
	x0, y0, x1, y1 := k.w, k.h, 0, 0
	for _, i := range cells {
		x0, y0, x1, y1 = min(x0, i%k.w), min(y0, i/k.w), max(x1, i%k.w+1), max(y1, i/k.w+1)
	}
	const side = sheetmodel.MM(pathCellPx / inkPxPerMM)
	return sheetmodel.Rect{X: r.X + sheetmodel.MM(x0)*side, Y: r.Y + sheetmodel.MM(y0)*side, W: sheetmodel.MM(x1-x0) * side, H: sheetmodel.MM(y1-y0) * side}
}
