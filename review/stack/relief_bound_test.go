package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Whoever may have written on a card is no second person beside its judge's word. A card that is printed with a place where somebody took over is
// said to have been used in the other run: it may be theirs still, and who binds it may be wrong. Source: our own logic.
func TestRelief_OfThePlaceThatIsPrintedOnACard_IsNoSecondPersonWhereItWasBound(t *testing.T) {
	for by, stands := range map[string]bool{"Cy": false, "Di": true} {
		b := newTable(t)
		place := &b.race.Run(1).Course("Blue").Places[1]
		place.Relief = []sheetmodel.Relief{{Judge: "Cy", At: "10:30"}}
		require.Equal(t, 2, place.Card)
		b.paper(1)
		key := store.Key(rowRef(2, 1).CardKey, sheetmodel.Front, stack.RowField(1, sheetmodel.PartBib))
		b.said("Ada", key, "14", 0, true)
		b.said(by, key, "14", 0, false)
		state := func() bool {
			s, _ := b.load()
			require.Len(t, s.Rows, 1)
			return s.Rows[0].BibState == sheetmodel.BibTwoLooks
		}
		require.Equal(t, stands, state(), by)
		require.NoError(t, b.store.Bind(t.Context(), store.Binding{Card: rowRef(2, 1).CardKey, Run: 2, Course: "Blue", Gates: place.Gates, Judge: place.Judge, Source: "header", By: "Ada"}))
		assert.Equal(t, stands, state(), "%s, bound to run 2", by)
	}
}
