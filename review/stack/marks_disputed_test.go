package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// One copy of a race says that a row is struck out, the other that it isn't, or that it was added and wasn't: nobody knows, so the row
// waits and the list is open until somebody says it again. Source: design, section 5.6; our own logic.
func TestMarks_TwoCopiesDiffer_TheRowWaits(t *testing.T) {
	a := stacktest.New(t)
	a.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	a.Ask("Bo", stacktest.Key("Blue", 1, 1, "bib"), "14")
	mark := stack.StruckKey(rowRef(1, 1).CardKey, 1)
	say := func(b *stacktest.Table, value, by string) {
		st, _ := b.Load()
		require.NoError(t, b.Store.Answer(t.Context(), st.OnPaper(store.Answer{Question: mark, Value: value, By: by})...))
	}
	say(a, stack.Marked, "Ada")
	o := secondLaptop(t, a)
	say(a, "", "Ada")
	say(a, stack.Marked, "Ada")
	say(o, "", "Cy")
	join(t, a, o)
	st, _ := a.Load()
	require.NotEmpty(t, st.Disputes())
	require.Len(t, st.Questions, 1)
	assert.NotEmpty(t, st.Facts().Open)
	assert.Equal(t, sheetmodel.BibWaiting, st.Row(rowRef(1, 1)).BibState)
	require.NoError(t, a.Store.Answer(t.Context(), store.Answer{Question: st.Questions[0].Key, Value: stack.AnswerSeen, By: "Ada"}))
	st, _ = a.Load()
	assert.Equal(t, sheetmodel.BibTwoLooks, st.Row(rowRef(1, 1)).BibState)
	assert.False(t, st.Row(rowRef(1, 1)).Struck)
	say(a, stack.Marked, "Ada")
	st, _ = a.Load()
	assert.Empty(t, st.Questions)
	assert.True(t, st.Row(rowRef(1, 1)).Struck)
}

// A row that only one of two copies still has as added by hand stays, and waits.
func TestMarks_TwoCopiesDifferAboutAnAddedRow_ItStays(t *testing.T) {
	a := stacktest.New(t)
	a.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	mark := stack.AddedKey(rowRef(1, 1).CardKey, 3)
	say := func(b *stacktest.Table, value, by string) {
		st, _ := b.Load()
		require.NoError(t, b.Store.Answer(t.Context(), st.OnPaper(store.Answer{Question: mark, Value: value, By: by})...))
	}
	say(a, "1.0,1.0,9.0,9.0", "Ada")
	o := secondLaptop(t, a)
	say(a, "1.0,2.0,9.0,9.0", "Ada")
	say(o, "", "Cy")
	join(t, a, o)
	join(t, o, a)
	for _, b := range []*stacktest.Table{a, o} {
		st, _ := b.Load()
		require.NotNil(t, st.Row(rowRef(1, 3)))
		assert.Equal(t, sheetmodel.BibWaiting, st.Row(rowRef(1, 3)).BibState)
		assert.NotEmpty(t, st.Facts().Open)
		require.NotEmpty(t, st.Questions)
	}
}
