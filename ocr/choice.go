package ocr

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gatefold/ocr/calib"
	"gatefold/sheetmodel"
)

// readTick reads one tick box: "x" or nothing.
func (r *Reader) readTick(pg *page, f sheetmodel.Field) (sheetmodel.Reading, error) {
	out := blankReading(f, pg.side.Name)
	s, err := r.tick(pg, f, f.Rect, "")
	if err != nil {
		return out, err
	}
	out.Region = s.region
	pg.hints[f.Name] = s.hint
	switch s.mark {
	case unmarked:
		return out, nil
	case marked:
		out.Text = "x"
		r.judgeMark(&out, calib.Tick, pg.markScore(f.Rect, s))
	case unsure:
		out.State, out.Text = sheetmodel.Doubtful, "x"
		out.Doubt(s.why.Kind, s.why.Detail)
	}
	return out, nil
}

// readChoice reads a choice: the one option that is marked, by a tick in its box or a ring around its word.
//
// Two marks, an unsure one, or ink beside the options is doubtful. The text is then the likeliest option,
// the others that may be meant are rivals.
func (r *Reader) readChoice(pg *page, f sheetmodel.Field) (sheetmodel.Reading, error) {
	out := blankReading(f, pg.side.Name)
	kind := calib.Tick
	if f.Rings {
		kind = calib.Ring
	}
	var plain, maybe []int
	var err error
	sights := make([]sight, len(f.Options))
	for i, o := range f.Options {
		if f.Rings {
			sights[i] = pg.ink.ring(o.Rect)
		} else if sights[i], err = r.tick(pg, f, o.Rect, o.Value); err != nil {
			return out, err
		}
		switch sights[i].mark {
		case marked:
			plain = append(plain, i)
		case unsure:
			maybe = append(maybe, i)
		case unmarked:
		}
	}
	if f.Part == sheetmodel.PartCode && len(plain) == 1 {
		if maybe, err = r.withoutShade(pg, f, sights, maybe); err != nil {
			return out, err
		}
	}
	if i, ok := pg.standsOut(f, sights); ok && len(plain) == 0 && len(maybe) == 1 && maybe[0] == i {
		plain, maybe = maybe, nil
	}
	if i, ok := pg.aloneInRow(f, sights); ok {
		plain, maybe = []int{i}, nil
	}
	stray := pg.ink.beside(f)
	if len(plain)+len(maybe) == 0 {
		if stray > 0 {
			out.State = sheetmodel.Doubtful
			out.Doubt(sheetmodel.DoubtOutsideBox, "ink beside the boxes, none of them is marked")
		}
		return out, nil
	}
	pg.hints[f.Name] = len(plain) == 0 && stray == 0 && !slices.ContainsFunc(maybe, func(i int) bool { return !sights[i].hint })
	best := heaviest(sights, plain, maybe)
	out.Text, out.Region = f.Options[best].Value, sights[best].region
	if len(plain) == 1 && len(maybe) == 0 {
		r.judgeMark(&out, kind, pg.markScore(f.Options[best].Rect, sights[best]))
	} else {
		out.State = sheetmodel.Doubtful
	}
	for _, i := range append(plain, maybe...) {
		if i != best {
			share := (sights[i].area + dustMM2) / (sights[i].area + sights[best].area + 2*dustMM2)
			out.Rivals = append(out.Rivals, sheetmodel.Rival{Text: f.Options[i].Value, Prob: sheetmodel.Prob(share)})
		}
	}
	if len(plain)+len(maybe) > 1 {
		out.Doubt(sheetmodel.DoubtTwoMarks, "marked: "+values(f, append(plain, maybe...)))
	}
	for _, i := range maybe {
		out.Doubt(sights[i].why.Kind, fmt.Sprintf("%s: %s", f.Options[i].Value, sights[i].why.Detail))
	}
	if stray > tickMM2 {
		out.Doubt(sheetmodel.DoubtOutsideBox, "more ink beside the boxes")
	}
	if len(maybe) > 0 {
		// The mark that is unsure may be none at all.
		out.Rivals = append(out.Rivals, sheetmodel.Rival{Prob: 0.2})
	}
	scaleRivals(out.Rivals)
	return out, nil
}

// standsOut returns the option that is as dark as a marked one while no other is darker than print has it,
// if its only fault is that little of its ink can be seen.
func (pg *page) standsOut(f sheetmodel.Field, sights []sight) (int, bool) {
	if f.Rings {
		return 0, false
	}
	best := -1
	for i, o := range f.Options {
		switch {
		case pg.faint.standsOut(o.Rect):
			if best >= 0 || sights[i].why.Kind != sheetmodel.DoubtFaintInk {
				return 0, false
			}
			best = i
		case pg.faint.unseen(o.Rect):
			return 0, false
		}
	}
	return best, best >= 0 && pg.faint.bears(f, best, sights[best])
}

// aloneInRow returns the option of a panel choice that stands out of its row by far, if nothing else is at fault
// than that little ink is seen, in it or in others.
func (pg *page) aloneInRow(f sheetmodel.Field, sights []sight) (int, bool) {
	if f.Rings || f.Part != sheetmodel.PartPanel || len(f.Options) < 2 {
		return 0, false
	}
	best, next := -1, math.Inf(-1)
	for i, o := range f.Options {
		switch d := pg.faint.of[o.Rect]; {
		case best < 0:
			best = i
		case d > pg.faint.of[f.Options[best].Rect]:
			best, next = i, pg.faint.of[f.Options[best].Rect]
		default:
			next = max(next, d)
		}
	}
	for i, s := range sights {
		pale := s.mark == unsure && s.why.Kind == sheetmodel.DoubtFaintInk
		switch {
		case i == best && (s.mark == marked || pale):
		case i != best && (s.mark == unmarked || pale && s.area < dustMM2):
		default:
			return 0, false
		}
	}
	return best, pg.faint.bears(f, best, sights[best]) && pg.faint.standsOutOf(pg.faint.of[f.Options[best].Rect], next)
}

// markScore is the score of a mark: the binary logarithm of how much darker it makes its box over the
// least that it must; where that isn't known, of its ink over the least that a mark needs. One that only the mark net
// sees has a score of its own.
func (pg *page) markScore(box sheetmodel.Rect, s sight) float64 {
	if s.seen {
		return markedScore
	}
	if d, ok := pg.faint.of[box]; ok && pg.faint.n >= sureOf {
		return math.Log2(max(d/(seenShare*pg.faint.mark), 0.1))
	}
	return math.Log2(max(s.area, dustMM2) / tickMM2)
}

// judgeMark makes a marked field clear if its certainty allows.
func (r *Reader) judgeMark(out *sheetmodel.Reading, kind calib.Kind, score float64) {
	var enough bool
	out.Certainty, enough = r.judge(out.Field, kind, score)
	out.State = sheetmodel.Clear
	if !enough {
		out.Doubt(sheetmodel.DoubtLowCertainty, "the mark is not certain enough")
	}
}

// heaviest prefers plain marks to unsure ones, then the one with more ink.
func heaviest(s []sight, plain, maybe []int) int {
	from := plain
	if len(from) == 0 {
		from = maybe
	}
	best := from[0]
	for _, i := range from {
		if s[i].area > s[best].area {
			best = i
		}
	}
	return best
}

func values(f sheetmodel.Field, options []int) string {
	var v []string
	for _, i := range options {
		v = append(v, f.Options[i].Value)
	}
	return strings.Join(v, ", ")
}

// scaleRivals keeps the sum of the rivals below a half, so that the text stays the likeliest.
func scaleRivals(v []sheetmodel.Rival) {
	sum := sheetmodel.Prob(0)
	for _, x := range v {
		sum += x.Prob
	}
	if sum > 0.5 {
		for i := range v {
			v[i].Prob *= 0.5 / sum
		}
	}
}

// beside returns the area of ink in a choice's field that belongs to none of its options.
func (m *inkMap) beside(f sheetmodel.Field) float64 {
	sum := 0.0
	for _, p := range m.pieces(f.Rect.Grow(1)) {
		if m.within(p, f.Rect) < 0.5*p.area || p.area < tickMM2/2 {
			continue
		}
		near := false
		for _, o := range f.Options {
			near = near || p.rect().Overlaps(o.Rect)
		}
		if !near {
			sum += p.area
		}
	}
	return sum
}
