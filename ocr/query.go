package ocr

import (
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// A question mark behind a bib that fills its comb falls into the first of the code's boxes, where it
// looks like a mark. It is told from ticks, crosses and strokes by its shape: wide at the top, narrow
// below, mostly with a dot of its own, and written at the bib's height instead of the box's. Over a mark
// it makes one that is higher and fuller than the others of its writer.

// markSigns is what is looked at, lengths as shares of the mark's height.
const markSigns = 13

// signsOfMark measures what stands in box. usual is the ink of a plain mark on this side, mm²; 0 if there
// is none. ok is false if there is nothing to measure.
func (m *inkMap) signsOfMark(box sheetmodel.Rect, usual float64) (signs [markSigns]float64, ok bool) {
	const partly = 0.3 // of a piece in the box: a question mark may stand above it
	var px []int
	parts := 0
	for _, p := range m.pieces(box.Grow(3)) {
		if in := m.within(p, box); in > 0 && in >= partly*p.area {
			px = append(px, p.px...)
			parts++
		}
	}
	if len(px) == 0 {
		return signs, false
	}
	c := m.cutOut(px)
	h := float64(c.h-2) / inkPxPerMM
	top, _ := c.span(0, 0.3)
	low, lowAt := c.span(0.6, 1)
	rows, cols := c.crossed()
	s := m.strokesOf(px)
	over := float64(box.Y) - float64(c.y0)/inkPxPerMM
	below := float64(c.y0+c.h-2)/inkPxPerMM - float64(box.Y+box.H)
	full := 0.0
	if usual > 0 {
		full = math.Log(float64(len(px)) * pxMM2 / usual)
	}
	const usualOver = -0.9 // mm: where marks begin below the box's upper edge
	return [markSigns]float64{
		(top - low) / h, low / h, top / h, float64(c.w-2) / inkPxPerMM / h, lowAt,
		math.Min(float64(parts), 2), math.Max(0, over-usualOver), below, h / 5, full, cols, rows, math.Min(float64(s.joints), 4),
	}, true
}

// span returns how wide the ink is between two heights, in mm, and where its middle lies, as a share of
// the whole width. Heights are shares from the top.
func (c cut) span(from, to float64) (wide, at float64) {
	h := float64(c.h - 2)
	x0, x1, sum, n := c.w, 0, 0, 0
	for y := 1 + int(from*h); y < 1+int(to*h); y++ {
		for x := range c.w {
			if c.ink[y*c.w+x] {
				x0, x1, sum, n = min(x0, x), max(x1, x+1), sum+x, n+1
			}
		}
	}
	if n == 0 {
		return 0, 0.5
	}
	return float64(x1-x0) / inkPxPerMM, (float64(sum)/float64(n) - 1) / float64(c.w-2)
}

// Weights of the signs, the constant last: fitted by logistic regression on first boxes of calibration
// writers, with a question mark in them, a question mark over a mark, or a mark alone. See report.md.
var queryWeights = [markSigns + 1]float64{
	9.146, -7.912, 0.711, -0.979, -4.487, 8.708, 0.183, -4.148, 12.155, 0.889, 4.345, -1.732, 0.888, -26.637,
}

const queryLimit = -2.6 // one plain mark in 35 lies above

// queried reports whether what stands in a row's first box may be a question mark behind its bib.
func (pg *page) queried(box sheetmodel.Rect) bool {
	if pg.ink.tick(box, pg.faint).mark == unmarked {
		return false
	}
	signs, ok := pg.ink.signsOfMark(box, pg.faint.ink)
	if !ok {
		return false
	}
	sum := queryWeights[markSigns]
	for i, v := range signs {
		sum += v * queryWeights[i]
	}
	return sum > queryLimit
}

// doubtQueried makes doubtful what a question mark behind a bib may be taken for, and what it may be about.
func doubtQueried(pg *page, row *sheetmodel.Row, fields []sheetmodel.Field) {
	about := func(detail string) {
		for _, x := range []*sheetmodel.Reading{&row.Bib, &row.BibAgain} {
			if x.State != sheetmodel.Empty {
				x.Doubt(sheetmodel.DoubtQuestionMark, detail)
			}
		}
	}
	// The trouble net saw the bib and a box's width behind it: what stands behind a second box it did not see.
	unquestioned := pg.views[row.Bib.Field].notQuestioned()
	second := slices.ContainsFunc(fields, func(f sheetmodel.Field) bool { return f.Part == sheetmodel.PartBibAgain })
	for _, f := range fields {
		if f.Part != sheetmodel.PartCode || f.Rings || len(f.Options) == 0 || row.Code.State == sheetmodel.Empty {
			continue
		}
		first := f.Options[0]
		switch {
		case unquestioned && !second:
		case pg.queried(first.Rect):
			row.Code.Doubt(sheetmodel.DoubtQuestionMark, first.Value+": perhaps a question mark behind the bib")
			about("what stands behind it may be a question mark")
		case row.Code.HasDoubt(sheetmodel.DoubtTwoMarks) && mayBe(row.Code, first.Value):
			about("one of two marks behind it may be a question mark")
		case row.Code.HasDoubt(sheetmodel.DoubtOutsideBox) && mayBe(row.Code, first.Value):
			about("ink right behind the bib may belong to it")
		}
	}
	if row.BibAgain.State == sheetmodel.Empty || row.Bib.State == sheetmodel.Empty || row.BibAgain.Text != "" && unquestioned {
		return
	}
	switch {
	case row.BibAgain.Text == "":
		row.Bib.Doubt(sheetmodel.DoubtQuestionMark, "the box beside it holds something that is no number")
	case row.BibAgain.HasDoubt(sheetmodel.DoubtOverwritten), row.BibAgain.HasDoubt(sheetmodel.DoubtOutsideBox):
		row.Bib.Doubt(sheetmodel.DoubtQuestionMark, "the writing beside it may hold a question mark")
	}
}

// mayBe reports whether a reading names a text, first or as a rival.
func mayBe(x sheetmodel.Reading, text string) bool {
	return x.Text == text || slices.ContainsFunc(x.Rivals, func(v sheetmodel.Rival) bool { return v.Text == text })
}
