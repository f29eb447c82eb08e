package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// A row that took no part when the bibs under a drawing were matched with the rows that name it may be the one whose bib stands there:
// read as its neighbour's bib, the other row would have found that one's second writing. The tie lends nothing then. Source: design,
// section 5.5 (the rows naming a panel and its entries match one to one; a tie that is itself doubtful lends nothing).
func TestTies_ARowThatWasNotMatched_TheDrawingLendsNothing(t *testing.T) {
	card, third := rowRef(2, 1).CardKey, rowRef(2, 3)
	struck, isStruck := rules.StruckAnswer(third)
	box := stack.FormatBox(sheetmodel.Rect{X: 1, Y: 1, W: 9, H: 9})
	foot := func(rows string) func(*table, *store.NewSheet) {
		return func(_ *table, n *store.NewSheet) {
			n.Read.Reading.Rows[2].Struck = true
			n.Read.Reading.Header = append(n.Read.Reading.Header, sheetmodel.Reading{Field: "foot.row-count", Side: sheetmodel.Front, Text: rows, State: sheetmodel.Clear})
		}
	}
	line := func(_ *table, n *store.NewSheet) { n.Read.Reading.Rows[2].Struck = true }
	elsewhere := func(_ *table, n *store.NewSheet) {
		n.Read.Reading.Rows[2].Struck, n.Read.Reading.Rows[2].Panel.Text = true, "C"
	}
	without := func(_ *table, n *store.NewSheet) { n.Read.Reading.Rows = n.Read.Reading.Rows[:2] }
	for name, c := range map[string]struct {
		front func(*table, *store.NewSheet)
		then  func(*table)
		lends bool
	}{
		"all rows matched":                 {front: without, lends: true},
		"added by hand":                    {front: without, then: func(b *table) { b.answer(stack.AddedKey(card, 3), box) }},
		"read aloud, and not seen":         {front: without, then: func(b *table) { b.types("Ada", store.Key(card, sheetmodel.Front, "row-03.bib"), "14") }},
		"struck, as far as can be seen":    {front: line},
		"struck, said to stand":            {front: line, then: func(b *table) { b.answer(struck, "stands") }},
		"struck, as a person says":         {front: line, then: func(b *table) { b.answer(struck, isStruck) }, lends: true},
		"struck, marked by hand too":       {front: line, then: func(b *table) { b.answer(stack.StruckKey(card, 3), stack.Marked) }, lends: true},
		"struck, as its foot says":         {front: foot("2"), lends: true},
		"struck, its foot counts it":       {front: foot("3")},
		"struck, says its foot, and typed": {front: foot("2"), then: func(b *table) { b.types("Ada", store.Key(card, sheetmodel.Front, "row-03.bib"), "14") }},
		"struck, says its foot, another can't be read": {front: func(b *table, n *store.NewSheet) {
			foot("2")(b, n)
			n.Read.Reading.Rows[1].Bib.Text, n.Read.Reading.Rows[1].Bib.State = "", sheetmodel.Doubtful
		}},
		"struck, at another drawing": {front: elsewhere, lends: true},
		"in an earlier photo, asked about": {front: without, then: func(b *table) {
			s, _ := b.load()
			require.Len(b.t, s.Questions, 1)
		}},
		"in an earlier photo, put aside": {front: without, lends: true, then: func(b *table) {
			s, _ := b.load()
			require.Len(b.t, s.Questions, 1)
			b.answer(s.Questions[0].Key, stack.AnswerLater)
		}},
	} {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			if c.then != nil && name[:3] == "in " {
				b.add(b.front(2, "14", "19", "41"))
			}
			front, back := b.front(2, "14", "19", "41"), b.back(2)
			c.front(b, &front)
			front.Read.Reading.Rows[1].Panel.Text = "C"
			front.Read.Alone = nil // nobody settles it alone
			back.Read.Reading.Strips = []sheetmodel.StripEntry{{
				Panel: "B", Entry: 1, Bib: sheetmodel.Reading{Field: "panel-b.bib-1", Side: sheetmodel.Back, Text: "14", State: sheetmodel.Clear},
			}}
			b.add(front, back)
			if c.then != nil {
				c.then(b)
			}
			s, _ := b.load()
			at := s.Card(card)
			require.NoError(t, b.store.AddTies(t.Context(), store.CardTies{
				Front: at.Front.ID, Back: at.Back.ID, Reader: "reader", Ties: []look.Tied{{Row: 1, Panel: "B", Entry: 1, Text: "14", Second: "14", Clear: true}},
			}))
			s, _ = b.load()
			if c.lends {
				assert.Equal(t, sheetmodel.BibTwoLooks, s.Row(rowRef(2, 1)).BibState, s.Row(rowRef(2, 1)).Reason)
			} else {
				assert.Equal(t, sheetmodel.BibOneLook, s.Row(rowRef(2, 1)).BibState)
			}
		})
	}
}
