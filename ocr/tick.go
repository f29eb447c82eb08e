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
	dustMM2    = 0.16 // less is nothing
	tickMM2    = 0.9  // less is a slip of the pencil, or a very faint mark
	tickMM     = 1.8  // as long as a mark must be
	ownShare   = 0.5  // of a mark's ink inside its box: less is another box's mark
	solidShare = 0.5  // of the box covered: filled in, or a mark scribbled out
	solidDark  = 26   // of 255, mean over the box against the farther paper
)

// sight is one box or word as seen.
type sight struct {
	mark   mark
	area   float64 // mm² of ink inside
	region sheetmodel.Rect
	why    sheetmodel.Doubt // for unsure
}

// tick looks at one printed box. A missed mark is as bad as a wrong one, so everything between nothing
// and a plain mark is unsure.
func (m *inkMap) tick(box sheetmodel.Rect) sight {
	s := sight{region: box}
	longest, foreign, tangled := 0.0, 0.0, false
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
		longest = max(longest, p.extent())
		s.region = s.region.Union(p.rect())
		tangled = tangled || m.tangled(p)
	}
	cover, dark := m.fill(box)
	unsureFor := func(kind sheetmodel.DoubtKind, detail string) {
		s.mark, s.why = unsure, sheetmodel.Doubt{Kind: kind, Detail: detail}
	}
	switch {
	case cover > solidShare || dark > solidDark && s.area > tickMM2 && cover > 0.35:
		unsureFor(sheetmodel.DoubtOverwritten, "filled in: a mark, or one taken back")
	case tangled:
		unsureFor(sheetmodel.DoubtStruckOut, "the mark may have been struck out")
	case s.area < dustMM2 && foreign < tickMM2/2 && dark <= solidDark:
		s.mark = unmarked
	case s.area < dustMM2 && foreign >= tickMM2/2:
		unsureFor(sheetmodel.DoubtOutsideBox, "ink from outside reaches into this box")
	case s.area < tickMM2 || longest < tickMM:
		unsureFor(sheetmodel.DoubtFaintInk, "too little ink for a mark, too much for none")
	case foreign > tickMM2:
		unsureFor(sheetmodel.DoubtOutsideBox, "ink from outside crosses this mark")
	default:
		s.mark = marked
	}
	return s
}

// fill returns the share of the box, print left out, that is inked, and its mean darkness against the
// paper farther off, which also sees an even shade.
func (m *inkMap) fill(box sheetmodel.Rect) (cover, dark float64) {
	x0, y0, x1, y1 := pxSpan(box, m.w, m.h)
	n, inked, sum := 0, 0, 0
	for y := y0; y < y1; y++ {
		for i := y*m.w + x0; i < y*m.w+x1; i++ {
			if m.print[i] {
				continue
			}
			n++
			sum += int(m.broad[i])
			if m.level[i] != paper {
				inked++
			}
		}
	}
	if n == 0 {
		return 0, 0
	}
	return float64(inked) / float64(n), float64(sum) / float64(n)
}

// ring looks at one printed word: a line around it, or a mark on it, means it. Its middle must lie
// inside what was drawn, and what was drawn must be as large as most of the word.
func (m *inkMap) ring(word sheetmodel.Rect) sight {
	s := sight{region: word}
	var all sheetmodel.Rect
	for _, p := range m.pieces(word.Grow(4)) {
		r := p.rect()
		if !r.Overlaps(word.Grow(0.3)) {
			continue
		}
		s.area += p.area
		if all.W == 0 {
			all = r
		} else {
			all = all.Union(r)
		}
	}
	switch {
	case s.area < dustMM2:
		return s
	case s.area >= 2*tickMM2 && all.Contains(word.Center()) && all.W >= 0.8*word.W && all.H >= 0.8*word.H:
		s.mark = marked
	default:
		s.mark = unsure
		s.why = sheetmodel.Doubt{Kind: sheetmodel.DoubtFaintInk, Detail: "ink at this word, but no ring around it"}
	}
	s.region = s.region.Union(all)
	return s
}
