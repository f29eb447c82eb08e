package ocr

import "gatefold/sheetmodel"

// mark is what the ink at one box or word says.
type mark int

const (
	unmarked mark = iota
	unsure        // too little, too much, or reaching over from elsewhere
	marked
)

// When ink is a mark. A tick of 4 mm with a pencil of 0.5 mm covers 3 mm², a dot of a resting pencil 0.3.
const (
	dustMM2    = 0.2  // less is nothing
	tickMM2    = 0.9  // less is a slip of the pencil, or a very faint mark; in a box as large as a digit's
	tickShare  = 0.02 // of a smaller box
	tickMM     = 1.5  // as long as a mark must be
	ownShare   = 0.5  // of a mark's ink inside its box: less is another box's mark
	overTop    = 1.0  // mm a mark may reach over its box; what reaches farther may be a question mark
	overSide   = 1.6  // or a stroke that was meant for something else
	ringRoom   = 4.0  // mm that a ring may reach beyond its word
	solidShare = 0.6  // of the box covered: filled in, or a mark scribbled out
	shadeDark  = 40   // thousandths, mean over the box against a rim around it: an even shade
	shadeRim   = 1.5  // mm
)

// sight is one box or word as seen.
type sight struct {
	mark   mark
	area   float64 // mm² of ink inside
	region sheetmodel.Rect
	why    sheetmodel.Doubt // for unsure
	hint   bool             // no stroke is seen, only spots or shade: nothing by itself, see blankRow
	seen   bool             // marked, by the mark net's word
}

// tick looks at one printed box. A missed mark is as bad as a wrong one, so everything between nothing
// and a plain mark is unsure. faint, if not nil, knows of marks too pale for ink to be seen.
func (m *inkMap) tick(box sheetmodel.Rect, faint *excess) sight {
	s := sight{region: box}
	longest, foreign, seeds := 0.0, 0.0, 0
	var own []piece
	tangled, leaves, strokes := false, false, false
	for _, p := range m.pieces(box.Grow(3)) {
		inside := m.within(p, box)
		if inside == 0 {
			continue
		}
		if inside < ownShare*p.area {
			foreign += inside
			continue
		}
		s.area += inside
		own = append(own, p)
		seeds += p.seeds
		longest = max(longest, p.extent())
		s.region = s.region.Union(p.rect())
		tangled = tangled || m.tangled(p)
		strokes = strokes || !m.grain(p)
		r := p.rect()
		leaves = leaves || r.Y < box.Y-overTop || r.X < box.X-overSide || r.X+r.W > box.X+box.W+overSide || r.Y+r.H > box.Y+box.H+overSide
	}
	cover, dark := m.fill(box)
	need := min(tickMM2, tickShare*float64(box.W*box.H))
	unsureFor := func(kind sheetmodel.DoubtKind, detail string) {
		s.mark, s.why = unsure, sheetmodel.Doubt{Kind: kind, Detail: detail}
	}
	switch {
	case cover > solidShare:
		unsureFor(sheetmodel.DoubtOverwritten, "filled in: a mark, or one taken back")
	case tangled:
		unsureFor(sheetmodel.DoubtStruckOut, "the mark may have been struck out")
	case s.area < dustMM2 && dark > shadeDark && (faint == nil || faint.unseen(box)):
		unsureFor(sheetmodel.DoubtFaintInk, "the box is shaded")
	case s.area < dustMM2 && foreign < need/2 && faint != nil && faint.unseen(box):
		unsureFor(sheetmodel.DoubtFaintInk, "darker than its like: perhaps a very pale mark")
	case s.area < dustMM2 && foreign < need/2:
		s.mark = unmarked
	case s.area < dustMM2:
		unsureFor(sheetmodel.DoubtOutsideBox, "ink from outside reaches into this box")
	case (s.area < need || longest < tickMM || seeds == 0) && (faint == nil || !faint.sure(box)):
		unsureFor(sheetmodel.DoubtFaintInk, "too little ink for a mark, too much for none")
	case leaves:
		unsureFor(sheetmodel.DoubtOutsideBox, "the mark leaves its box")
	case foreign > need:
		unsureFor(sheetmodel.DoubtOutsideBox, "ink from outside crosses this mark")
	case faint != nil && faint.unlikely(box):
		unsureFor(sheetmodel.DoubtFaintInk, "hardly darker than its like")
	case m.goesThrough(own, box):
		unsureFor(sheetmodel.DoubtOutsideBox, "a line goes through this box and on beyond it: a fold, or a line down the column")
	default:
		s.mark = marked
	}
	s.hint = s.why.Kind == sheetmodel.DoubtFaintInk && foreign < dustMM2 &&
		(s.area < dustMM2 || !strokes && s.area <= m.mostGrain()) && (faint == nil || faint.hint(box))
	return s
}

// fill returns the share of the box that is inked, and how much darker the box is, off the print, than a
// rim around it: an even shade has no strokes, but edges.
func (m *inkMap) fill(box sheetmodel.Rect) (cover, dark float64) {
	x0, y0, x1, y1 := pxSpan(box, m.w, m.h)
	u0, v0, u1, v1 := pxSpan(box.Grow(shadeRim), m.w, m.h)
	inked := 0
	var inside, rim, nIn, nRim float64
	for y := v0; y < v1; y++ {
		for x := u0; x < u1; x++ {
			i := y*m.w + x
			in := x >= x0 && x < x1 && y >= y0 && y < y1
			if in && m.level[i] != paper {
				inked++
			}
			switch {
			case m.print[i]:
			case in:
				inside, nIn = inside+float64(m.broad[i]), nIn+1
			default:
				rim, nRim = rim+float64(m.broad[i]), nRim+1
			}
		}
	}
	all := (x1 - x0) * (y1 - y0)
	if nIn == 0 || all == 0 {
		return 0, 0
	}
	if nRim > 0.1*nIn {
		rim /= nRim
	}
	return float64(inked) / float64(all), inside/nIn - rim
}

// ring looks at one printed word: a line around it, or a mark on it, means it. Its middle must lie
// inside what was drawn, and what was drawn must be as large as most of the word.
func (m *inkMap) ring(word sheetmodel.Rect) sight {
	s := sight{region: word}
	var all sheetmodel.Rect
	look, leaves := word.Grow(ringRoom), false
	for _, p := range m.pieces(look) {
		r := p.rect()
		if !r.Overlaps(word.Grow(0.3)) {
			continue
		}
		s.area += p.area
		leaves = leaves || r.X < look.X+0.3 || r.Y < look.Y+0.3 || r.X+r.W > look.X+look.W-0.3 || r.Y+r.H > look.Y+look.H-0.3
		if all.W == 0 {
			all = r
		} else {
			all = all.Union(r)
		}
	}
	switch {
	case s.area < dustMM2:
		return s
	case leaves:
		s.mark = unsure
		s.why = sheetmodel.Doubt{Kind: sheetmodel.DoubtOutsideBox, Detail: "ink from farther off, perhaps a finger, covers this word"}
	case s.area >= 2*tickMM2 && all.Contains(word.Center()) && all.W >= 0.8*word.W && all.H >= 0.8*word.H:
		s.mark = marked
	default:
		s.mark = unsure
		s.why = sheetmodel.Doubt{Kind: sheetmodel.DoubtFaintInk, Detail: "ink at this word, but no ring around it"}
	}
	s.region = s.region.Union(all)
	return s
}
