package stack

import (
	"slices"

	"gatefold/review/look"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// The paper ties the bibs under a drawing to the rows that name it only where they match one to one, row by row. A reader matches the rows
// that it sees. Where people know of a row that took no part in it, a bib under the drawing may be that one's: read as its neighbour's,
// a row would have found its neighbour's second writing.

// mayBeAnothers reports whether the second writing that is tied to a row, under a drawing, may be that of a row which was not matched.
func (l *loader) mayBeAnothers(c *Card, t look.Tied) bool {
	if t.Panel == "" {
		return false // in the row's own second box
	}
	rows := c.Front.Read.Reading.Rows
	matched := func(n int) bool {
		return slices.ContainsFunc(rows, func(r sheetmodel.Row) bool { return r.Number == n && r.HasInk })
	}
	unmatched := func(n int) bool { return !matched(n) }
	if slices.ContainsFunc(l.added, unmatched) || slices.ContainsFunc(l.entered[c.Printed], func(n int) bool { return !matched(n) && !l.notThere(c, n) }) {
		return true // nobody reads which drawing they name
	}
	for _, s := range c.Other { // of which nobody has said which photo counts
		if s.Side == sheetmodel.Front && slices.ContainsFunc(s.Read.Reading.Rows, func(r sheetmodel.Row) bool {
			return r.HasInk && !matched(r.Number) && mayName(r, t.Panel) && l.openQuestion(c.Printed, r.Number, "") != nil
		}) {
			return true
		}
	}
	return slices.ContainsFunc(rows, func(r sheetmodel.Row) bool {
		return r.Struck && r.Number != t.Row && mayName(r, t.Panel) && l.mayStand(c, r.Number)
	})
}

// mayName reports whether a row may name a drawing.
func mayName(r sheetmodel.Row, panel string) bool {
	return r.Panel.State == sheetmodel.Doubtful || r.Panel.State == sheetmodel.Clear && r.Panel.Text == panel
}

// mayStand reports whether a row that its reader sees as struck out, and so matches with nothing, may stand all the same: a person says
// so, or nobody has said anything and the number at the card's foot doesn't leave it out, as the rules see it.
func (l *loader) mayStand(c *Card, row int) bool {
	ref := sheetmodel.RowRef{CardKey: c.Key, Row: row}
	_, struck := rules.StruckAnswer(ref)
	switch said := l.saidOfLine(c, row); {
	case said != "" && said != struck:
		return true
	case said == struck, l.marked(c, row):
		return false
	}
	entered, standing, countable := l.entered[c.Printed], 0, true
	for _, r := range c.Front.Read.Reading.Rows {
		if r.HasInk && !r.Struck {
			standing++
			countable = countable && (slices.Contains(entered, r.Number) || !unread(r))
		}
	}
	return !countable || slices.Contains(entered, row) || c.RowCount == nil || *c.RowCount != standing
}

// notThere reports whether a person says that a row which was entered doesn't stand on its card.
func (l *loader) notThere(c *Card, row int) bool {
	_, said, _, _ := l.saidEntered(c, row)
	return said == AnswerNotThere
}
