package stack_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// A card was called lost, then it was found, photographed and typed; a newer reader refuses the photo. Its rows are gone from
// the draft, and the older reason doesn't close the gap: it is asked again, and can be answered. Source: our own logic.
func TestGap_CardCameInAfterTheReason_IsAskedAgain(t *testing.T) {
	for _, typed := range []bool{true, false} {
		b := stacktest.New(t)
		card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
		lost := func() {
			require.NoError(t, b.Store.CloseGap(t.Context(), store.GapReason{Card: card, Reason: "card lost", By: "Ada"}))
		}
		reason := func() string {
			st, _ := b.Load()
			i := slices.IndexFunc(st.Facts().Cards, func(c rules.Card) bool { return c.Key == card })
			require.GreaterOrEqual(t, i, 0)
			require.False(t, st.Facts().Cards[i].In)
			return st.Facts().Cards[i].GapReason
		}
		lost()
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
		if typed {
			b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
		}
		photos, err := b.Store.Photos(t.Context())
		require.NoError(t, err)
		require.NoError(t, b.Store.Refuse(t.Context(), photos[0].ID, "newer reader", store.Refusal{Fault: "blurred", Detail: "not sharp", Remedy: "again"}))
		assert.Equal(t, !typed, reason() == "card lost", "nothing was entered of it: %v", !typed)
		lost()
		assert.Equal(t, "card lost", reason())
	}
}

// So it is where the laptop's clock was set back in between.
func TestGap_CardCameInAfterTheReasonByAClockSetBack_IsAskedAgain(t *testing.T) {
	b := newTable(t)
	at := storetest.Clock()()
	s, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: func() time.Time { return at }})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	b.store = s
	card := rowRef(2, 1).CardKey
	require.NoError(t, s.CloseGap(t.Context(), store.GapReason{Card: card, Reason: "card lost", By: "Ada"}))
	at = at.Add(-time.Hour)
	b.add(b.front(2, "14"))
	b.types("Ada", "run1/Blue/card-2/front/row-01.bib", "14")
	photos, err := s.Photos(t.Context())
	require.NoError(t, err)
	require.NoError(t, s.Refuse(t.Context(), photos[0].ID, "newer reader", store.Refusal{Fault: "blurred", Detail: "not sharp", Remedy: "again"}))
	st, _ := b.load()
	assert.Empty(t, st.Card(card).GapReason)
	require.NoError(t, s.CloseGap(t.Context(), store.GapReason{Card: card, Reason: "card lost", By: "Ada"}))
	st, _ = b.load()
	assert.Equal(t, "card lost", st.Card(card).GapReason)
}

// A card was called lost, then a photo of its back comes in: it has been found, and its rows are on its front. The older reason doesn't
// close the gap; one that is given now does. Source: our own logic.
func TestGap_BackCameInAfterTheReason_IsAskedAgain(t *testing.T) {
	b := stacktest.New(t)
	card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
	require.NoError(t, b.Store.CloseGap(t.Context(), store.GapReason{Card: card, Reason: "card lost", By: "Ada"}))
	back := b.Sheets("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})[1]
	keep(t, b, "back.jpg", "reader", back)
	st, result := b.Load()
	assert.Empty(t, st.Card(card).GapReason)
	assert.True(t, slices.ContainsFunc(result.Incomplete, func(g rules.Gap) bool { return strings.Contains(g.Why, "no photo of its front") }))
	require.NoError(t, b.Store.CloseGap(t.Context(), store.GapReason{Card: card, Reason: "its front is torn off", By: "Ada"}))
	keep(t, b, "back.jpg", "a newer reader", back)
	st, _ = b.Load()
	assert.Equal(t, "its front is torn off", st.Card(card).GapReason, "read again, it is no other photo")
}
