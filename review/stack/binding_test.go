package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// spare is a photo of spare card 201 with one row.
func (b *table) spare(bib string) store.NewSheet {
	n := b.front(2, bib)
	n.Identity.Run, n.Identity.Course, n.Identity.Card = 0, 0, 201
	n.Card = sheetmodel.CardKey{Card: 201}
	return n
}

// A placing list was written with a number that a spare has, after the spare was bound.
func TestBinding_OntoAnExpectedCard_BindsNothing(t *testing.T) {
	b := newTable(t)
	b.add(b.spare("19"))
	bind := store.Binding{Card: sheetmodel.CardKey{Card: 201}, Run: 1, Course: "Blue", Gates: []string{"7"}, Judge: "X", Source: "header", By: "Ada"}
	require.NoError(t, b.store.Bind(t.Context(), bind))
	s, _ := b.load()
	assert.NotNil(t, s.Row(sheetmodel.RowRef{CardKey: bind.Used(), Row: 1}))

	b.race.Run(1).Course("Blue").Places[0].Card = 201
	s, result := b.load()
	seen := map[sheetmodel.CardKey]int{}
	for _, c := range s.Cards {
		seen[c.Key]++
		assert.Equal(t, 1, seen[c.Key], "%v", c.Key)
	}
	require.Len(t, s.Rows, 1, "the row is not dropped")
	assert.Equal(t, sheetmodel.CardKey{Card: 201}, s.Rows[0].Ref.CardKey, "and counts nowhere")
	assert.True(t, open(result, "Spare card 201 can't be bound to Blue, run 1: another card 201 is there, and their rows would be mixed; "+
		"give that place another number in race.yaml, or bind the card where it was used."))
	for _, c := range result.Calls {
		assert.True(t, c.Waiting)
	}
}

func TestBinding_OntoACardThatIsIn_IsRefused(t *testing.T) {
	b := newTable(t)
	n := b.front(2, "14")
	n.Card.Card, n.Identity.Card = 201, 201
	b.add(n)
	b.add(b.spare("19"))
	bind := store.Binding{Card: sheetmodel.CardKey{Card: 201}, Run: 1, Course: "Blue", Gates: []string{"7"}, Source: "header", By: "Ada"}
	var taken *store.TakenError
	require.ErrorAs(t, b.store.Bind(t.Context(), bind), &taken)
	assert.Equal(t, bind.Used(), taken.Used)
	bindings, err := b.store.Bindings(t.Context())
	require.NoError(t, err)
	assert.Empty(t, bindings)

	bind.Course = "Red"
	require.NoError(t, b.store.Bind(t.Context(), bind))
	other := store.Binding{Card: n.Card, Run: 1, Course: "Red", Gates: []string{"7"}, Source: "header", By: "Ada"}
	require.ErrorAs(t, b.store.Bind(t.Context(), other), &taken, "the spare is there")
	bind.Course = "Blue"
	require.ErrorAs(t, b.store.Bind(t.Context(), bind), &taken)
	s, _ := b.load()
	assert.Len(t, s.Rows, 2)
}
