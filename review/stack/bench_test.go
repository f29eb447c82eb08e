package stack_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// BenchmarkLoad is what stands between a key press and the next entry: settle one bib, lay the whole
// stack of 60 cards with ten rows each anew, and let the rules look at it.
func BenchmarkLoad(b *testing.B) {
	t := newTable(b)
	for card := 1; card <= 60; card++ {
		rows := make([]string, 10)
		for i := range rows {
			rows[i] = fmt.Sprint(1 + (card*10+i)%120)
		}
		n := t.front(1+(card-1)%6, rows...)
		n.Card.Card = card
		for i := range n.Read.Reading.Rows {
			for v := range 6 {
				n.Read.Reading.Rows[i].Bib.Rivals = append(n.Read.Reading.Rows[i].Bib.Rivals, sheetmodel.Rival{Text: fmt.Sprint(v), Prob: 0.1})
			}
		}
		t.add(n, t.back(card))
	}
	i := 0
	for b.Loop() {
		i++
		key := store.Key(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1 + i%60}, sheetmodel.Front, stack.RowField(1+i/60%10, sheetmodel.PartBib))
		t.types(fmt.Sprint("person ", i), key, "7")
		s, err := stack.Load(b.Context(), t.race, t.store)
		require.NoError(b, err)
		waits := s.Waiting(rules.Check(s.Facts()))
		require.NotEmpty(b, waits)
		require.NotEqual(b, look.NeedNothing, waits[0].Need)
	}
}
