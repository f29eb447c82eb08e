package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
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

// A photo shows two cards that say themselves which they are, and a newer reader finds them in another order: what was said of one of
// them by hand is said of the same one.
func TestOnPaper_SidesFoundInAnotherOrder_KeepWhatWasSaidOfThem(t *testing.T) {
	b := newTable(t)
	one, two := b.front(1, "14"), b.front(2, "15")
	one.Part, two.Part = 1, 2
	b.add(one, two)
	s, _ := b.load()
	say := func(key, value string) {
		require.NoError(t, b.store.Answer(t.Context(), s.OnPaper(store.Answer{Question: key, Value: value, By: "Ada"})...))
	}
	say(stack.StruckKey(rowRef(1, 1).CardKey, 1), stack.Marked)
	require.NoError(t, b.store.Bind(t.Context(), store.Binding{
		Card: rowRef(1, 1).CardKey, Run: 1, Course: "Red", Gates: []string{"1"}, Source: "header", By: "Ada", Paper: s.Card(rowRef(1, 1).CardKey).Front.Paper(),
	}))

	photos, err := b.store.Photos(t.Context())
	require.NoError(t, err)
	one.Part, two.Part = 2, 1
	require.NoError(t, b.store.AddSheets(t.Context(), photos[0].ID, "better reader", []store.NewSheet{two, one}))
	s, _ = b.load()
	require.Len(t, s.Rows, 2)
	for _, r := range s.Rows {
		first := s.Cards[r.Card].Printed.Card == 1
		assert.Equal(t, first, r.Struck, "%v", r.Ref)
		assert.Equal(t, first, r.Ref.Course == "Red", "%v", r.Ref)
	}
}
