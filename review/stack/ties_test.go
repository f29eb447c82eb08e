package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Collecting was cut off between the photos and the work on both sides together: what the strip says
// against the row isn't known, so no proposal stands on it.
func TestTies_NotWorkedOutYet_TheRowWaits(t *testing.T) {
	b := newTable(t)
	back := b.back(2)
	back.Read.Reading.Strips = []sheetmodel.StripEntry{{
		Panel: "B", Entry: 1, Bib: sheetmodel.Reading{Field: "strip-b.1", Side: sheetmodel.Back, Text: "40", State: sheetmodel.Clear},
	}}
	b.add(b.front(2, "14"), back)
	s, result := b.load()
	row := s.Row(rowRef(2, 1))
	assert.Equal(t, sheetmodel.BibWaiting, row.BibState)
	assert.Contains(t, row.Reason, "run gatefold collect again")
	assert.Len(t, s.Waiting(result), 1, "it can be typed meanwhile")

	b.types("Ada", row.BibSeen.Key, "14")
	s, result = b.load()
	assert.Empty(t, result.Calls)
	assert.Equal(t, look.NeedNothing, s.Waiting(result)[0].Need, "nobody types it again")

	c := s.Card(rowRef(2, 1).CardKey)
	add := func(ties ...look.Tied) {
		require.NoError(t, b.store.AddTies(t.Context(), store.CardTies{Front: c.Front.ID, Back: c.Back.ID, Reader: "reader", Ties: ties}))
	}
	add()
	_, result = b.load()
	require.Len(t, result.Calls, 1)
	assert.False(t, result.Calls[0].Waiting)
	add(look.Tied{Row: 1, Panel: "B", Entry: 1, Second: "40", Differs: true})
	s, _ = b.load()
	assert.Equal(t, look.NeedJudge, s.Row(rowRef(2, 1)).BibSeen.Seen.Next)
}
