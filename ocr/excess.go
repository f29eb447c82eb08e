package ocr

import (
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// excess says for each tick box of a side how much darker it is, as a whole, than its like: the mean of
// what paper and print don't explain, in thousandths, less the median over its siblings.
//
// A mark too faint for any of its px to stand out from the grain still makes its box darker: a pencil
// stroke of 2 mm² and 50 thousandths in a box of 20 mm² makes 5, the grain's mean over the box is 1 or
// less. Siblings are the other options of the field; for a lone box, the same box in other rows.
type excess struct {
	of    map[sheetmodel.Rect]float64
	mark  float64 // that of a plain mark on this side, by this pen under this light; 0 if there is none
	n     int     // how many plain marks that was measured on
	ink   float64 // mm² of a plain mark of the code's, 0 if there is none
	least float64 // thousandths that grain and light alone may make
	// spread is the standard deviation of what panel boxes without a mark show on this side, thousandths;
	// 0 if there are too few to tell. Each photo has its own: grain, shadow and print leave more or less.
	spread float64
	odd    map[sheetmodel.Rect]float64 // how unlike a panel box is to those with the same letter, see oddOf
	pale   map[sheetmodel.Rect]bool    // boxes of a list of passages in which a stroke may be that is no ink to be seen
	// passed is what mark is, for boxes of such a list; a side has either or both.
	passed map[sheetmodel.Rect]float64
}

// Which excess is a mark that may have been missed, and which is too small for one that was seen.
// Shares are of a plain mark's on the same side; over some thousand boxes on hard photos unmarked ones
// reached 0.28 once in a thousand, marked ones stayed above 0.45 in 98 of 100.
const (
	missedShare = 0.26
	missedLeast = 4.0  // thousandths, about where light and print are no longer known
	missedGrain = 0.42 // of the noise of a px: about four deviations of a box's mean
	missedMost  = 20.0
	missedAlone = 7.0 // where the side has no plain mark to compare with
	seenShare   = 0.35
	sureShare   = 0.6  // with this much, little visible ink is enough
	sureLeast   = 8.0  // thousandths
	sureOf      = 3    // plain marks that must have been seen
	aloneShare  = 0.75 // with this much, and no other option above missedShare, none is needed
	aloneLeast  = 10.0
	spreadBest  = 7.5 // spreads by which a box stands out of its side: none of 350 unmarked or wrong ones did,
	spreadNext  = 5.5 // by so many above the next box of its row, which has
	nextShare   = 0.5 // at most so much of it,
	bestShare   = 0.4 // and at least so much of a plain mark
	leastSpread = 0.5 // thousandths
	hintShare   = 0.6 // with less and no stroke to be seen, a row without any other ink is blank
	hintAlone   = 16.0
	letterMost  = 6.0 // thousandths by which the print in a box may be misjudged
)

// unseen reports whether a box without visible ink may hold a mark.
func (e *excess) unseen(box sheetmodel.Rect) bool {
	limit := missedAlone
	if e.mark > 0 {
		limit = min(missedShare*e.mark, missedMost)
	}
	if m := e.passed[box]; m > 0 {
		limit = min(limit, missedShare*m)
	}
	return e.of[box] > max(limit, e.least) || e.odd[box] > oddLeast || e.pale[box]
}

// unlikely reports whether a box with visible ink is hardly darker than its like: grain, or a fold.
func (e *excess) unlikely(box sheetmodel.Rect) bool {
	return e.of[box] < max(seenShare*max(e.mark, e.passed[box]), e.least)
}

// sure reports whether a box with little visible ink is as dark as a marked one.
func (e *excess) sure(box sheetmodel.Rect) bool {
	return e.n >= sureOf && e.of[box] >= max(sureShare*e.mark, sureLeast)
}

// standsOut reports whether a box is so dark that it is marked even if no ink is seen in it.
func (e *excess) standsOut(box sheetmodel.Rect) bool {
	return e.n >= sureOf && e.of[box] >= max(aloneShare*e.mark, aloneLeast)
}

// standsOutOf reports whether a box is so much darker than all others of its row, measured by how the boxes
// of this side differ without a mark, that it is marked, and no other is, even if no ink is seen in it.
func (e *excess) standsOutOf(best, next float64) bool {
	return e.spread > 0 && e.n >= sureOf && best >= spreadBest*e.spread && best-next >= spreadNext*e.spread &&
		next < nextShare*best && best >= bestShare*e.mark
}

// bears reports whether darkness alone may make a mark of an option. Where no ink is seen, only the letter printed in
// a panel's box can tell: laid over its like it must look marked too. Grain and blur make letters of uneven darkness, and
// a box without a letter has nothing to be compared with but its mean.
func (e *excess) bears(f sheetmodel.Field, option int, s sight) bool {
	if s.area >= dustMM2 {
		return true
	}
	return f.Part == sheetmodel.PartPanel && e.odd[f.Options[option].Rect] > oddLeast
}

// hint reports whether a box without a stroke to be seen is less dark than a mark makes it.
func (e *excess) hint(box sheetmodel.Rect) bool {
	if e.mark > 0 {
		return e.of[box] < hintShare*e.mark
	}
	return e.of[box] < hintAlone
}

// excessOf compares all boxes of a side: options with options, lone ticks with their like in other rows,
// boxes of combs with those of all combs of the same part.
func (m *inkMap) excessOf(side *sheetmodel.Side) *excess {
	e := &excess{of: map[sheetmodel.Rect]float64{}, pale: map[sheetmodel.Rect]bool{}, passed: map[sheetmodel.Rect]float64{}, least: max(missedLeast, missedGrain*m.noise)}
	var columns [][]sheetmodel.Rect
	alike := map[sheetmodel.Part][]sheetmodel.Rect{}
	for _, f := range side.Fields {
		switch {
		case f.Kind == sheetmodel.Tick:
			alike[f.Part] = append(alike[f.Part], f.Rect)
		case f.Kind == sheetmodel.Comb:
			for i := range f.Boxes {
				alike[f.Part] = append(alike[f.Part], f.Rect.Box(i, f.Boxes))
			}
		case f.Kind == sheetmodel.Choice && !f.Rings:
			boxes := make([]sheetmodel.Rect, len(f.Options))
			for i, o := range f.Options {
				boxes[i] = o.Rect
			}
			m.compare(boxes, e)
			if f.Part == sheetmodel.PartPanel {
				columns = append(columns, boxes)
			}
		}
	}
	e.levelColumns(columns)
	e.spread = e.spreadOf(columns)
	e.odd = m.oddOf(columns)
	for part, boxes := range alike {
		switch {
		case len(boxes) < 4: // fewer don't tell what is usual
		case part == sheetmodel.PartPassed:
			m.compareMostlyMarked(boxes, e)
		default:
			m.compare(boxes, e)
		}
	}
	var plain, ink []float64
	for _, f := range side.Fields {
		for _, o := range f.Options {
			v, ok := e.of[o.Rect]
			if !ok {
				continue
			}
			s := m.tick(o.Rect, nil)
			if s.mark != marked {
				continue
			}
			plain = append(plain, v)
			if f.Part == sheetmodel.PartCode {
				ink = append(ink, s.area)
			}
		}
	}
	e.mark, e.n, e.ink = median(plain), len(plain), median(ink)
	return e
}

// compare adds the excess of boxes that are alike.
func (m *inkMap) compare(boxes []sheetmodel.Rect, e *excess) {
	means := make([]float64, len(boxes))
	for i, b := range boxes {
		means[i] = m.unexplained(b.Grow(-0.4))
	}
	s := slices.Clone(means)
	slices.Sort(s)
	// Below the middle: of few boxes, half may be marked.
	base := s[(len(s)-1)/2]
	for i, b := range boxes {
		e.of[b] = means[i] - base
	}
}

// In a column of which most boxes are marked, the middle is a mark.
const (
	passedLow  = 0.1 // of the boxes are taken to be unmarked: some racers always stay away
	passedNone = 3   // boxes without any ink to be seen that tell how an unmarked one looks
	passedRim  = 1.5 // mm round a box, where nobody writes, if not
	passedOdd  = 7.0 // standard deviations, of two figures together, as at oddLeast
)

// compareMostlyMarked is compare for boxes of which any share may be marked, as a list of those who came by has them.
// An unmarked one looks like those in which no ink is seen, or, if hardly any is, like the paper around them; and never
// darker than the lightest tenth: with a pencil too pale to be seen, boxes without ink are marked ones too.
func (m *inkMap) compareMostlyMarked(boxes []sheetmodel.Rect, e *excess) {
	means := make([]float64, len(boxes))
	var bare, rims []float64
	var empty []int
	for i, b := range boxes {
		means[i] = m.unexplained(b.Grow(-0.4))
		if s := m.tick(b, nil); s.area < dustMM2 {
			empty = append(empty, i)
			if s.mark == unmarked {
				bare = append(bare, means[i])
			}
		}
		rims = append(rims, m.besideOf(b))
	}
	base := at(slices.Sorted(slices.Values(means)), passedLow)
	if len(bare) >= passedNone {
		base = min(base, median(bare))
	} else {
		base = min(base, median(rims))
	}
	for i, b := range boxes {
		e.of[b] = means[i] - base
	}
	var plain []float64
	for _, b := range boxes {
		if m.tick(b, nil).mark == marked {
			plain = append(plain, e.of[b])
		}
	}
	if len(plain) >= sureOf {
		for _, b := range boxes {
			e.passed[b] = median(plain)
		}
	}
	m.lookForPale(boxes, empty, e)
}

// lookForPale looks for strokes in boxes without ink to be seen. A shade over a box, or a stain beside it, moves its
// mean by more than a pale stroke does; so each is laid over its like, as at oddOf, and its darkest spot counts.
// Where there are too few without ink to tell how one looks, every one of them may hold a stroke.
func (m *inkMap) lookForPale(boxes []sheetmodel.Rect, empty []int, e *excess) {
	if len(empty) < oddRows {
		for _, i := range empty {
			e.pale[boxes[i]] = true
		}
		return
	}
	patches := make([][]float64, len(boxes))
	w := 0
	for i, b := range boxes {
		patches[i], w = m.patchOf(b.Grow(-oddRim), boxes[0].Grow(-oddRim))
	}
	usual := quantilePatch(patches, passedLow) // of marks that lie a little differently, hardly any px is in so many
	figures := [2][]float64{}
	var darks, lights []float64
	for _, i := range empty {
		for k := range patches[i] {
			patches[i][k] -= usual[k]
		}
		spot, top := oddness(patches[i], w)
		dark, light := streaks(patches[i], w)
		darks, lights = append(darks, dark), append(lights, light)
		figures[0], figures[1] = append(figures[0], spot), append(figures[1], top)
	}
	sums := make([]float64, len(empty))
	for _, v := range figures {
		s := slices.Sorted(slices.Values(v))
		spread := max((at(s, oddMid)-at(s, oddLow))/oddWide, leastSpread)
		for k := range v {
			sums[k] += (v[k] - at(s, oddMid)) / spread
		}
	}
	for k, i := range empty {
		if sums[k] > passedOdd || darks[k] > max(streakLeast, streakOver*median(lights)) {
			e.pale[boxes[i]] = true
		}
	}
}

// besideOf is how dark the paper round a box is beyond its print; its outline is left out.
func (m *inkMap) besideOf(box sheetmodel.Rect) float64 {
	in, out := box.Grow(0.4), box.Grow(passedRim)
	strips := []sheetmodel.Rect{
		{X: out.X, Y: out.Y, W: out.W, H: in.Y - out.Y}, {X: out.X, Y: in.Y + in.H, W: out.W, H: out.Y + out.H - in.Y - in.H},
		{X: out.X, Y: out.Y, W: in.X - out.X, H: out.H}, {X: in.X + in.W, Y: out.Y, W: out.X + out.W - in.X - in.W, H: out.H},
	}
	lightest := math.Inf(1) // the others may hold print or a stroke
	for _, s := range strips {
		lightest = min(lightest, m.unexplained(s))
	}
	return lightest
}

// levelColumns takes off what all boxes with the same letter share: letters are printed inside these
// boxes, and how dark a photo shows them is known only about. rows holds the boxes of each row.
func (e *excess) levelColumns(rows [][]sheetmodel.Rect) {
	if len(rows) < 4 {
		return
	}
	for k := range rows[0] {
		var column []float64
		for _, boxes := range rows {
			column = append(column, e.of[boxes[k]])
		}
		slices.Sort(column)
		// Below the middle: a letter may be marked in half of the rows.
		base := column[len(column)*3/10]
		base = min(max(base, -letterMost), letterMost)
		for _, boxes := range rows {
			e.of[boxes[k]] -= base
		}
	}
}

// spreadOf measures, below the middle of all boxes, where few are marked, how they differ.
func (e *excess) spreadOf(rows [][]sheetmodel.Rect) float64 {
	const low, high, apart = 0.08, 0.45, 1.28 // of a normal distribution, in standard deviations
	var all []float64
	for _, boxes := range rows {
		for _, b := range boxes {
			all = append(all, e.of[b])
		}
	}
	const least = 20
	if len(all) < least {
		return 0
	}
	slices.Sort(all)
	n := float64(len(all) - 1)
	return max((all[int(high*n)]-all[int(low*n)])/apart, leastSpread)
}

// unexplained is the mean darkness over area beyond that of print, folds left out.
func (m *inkMap) unexplained(area sheetmodel.Rect) float64 {
	x0, y0, x1, y1 := pxSpan(area, m.w, m.h)
	sum, n := 0, 0
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			if len(m.folds) > 0 && m.onFold(x, y) {
				continue
			}
			sum += int(m.dark[y*m.w+x]) - int(m.plain[y*m.w+x])
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return float64(sum) / float64(n)
}
