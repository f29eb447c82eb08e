package stack_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// What two copies of a race say otherwise of a back counts in neither way: it is missing until somebody says it once more, or photographs
// it. Source: our own logic, as for all answers.
func TestBack_SaidOtherwiseInTwoCopies_IsMissing(t *testing.T) {
	a := stacktest.New(t)
	sheets := a.Sheets("Blue", 1, stacktest.Row{Bib: "14", Code: "K", Gate: "6"})
	photo, _, err := a.Store.AddPhoto(t.Context(), "front", bytes.NewReader([]byte("\xff\xd8\xff front")), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, a.Store.AddSheets(t.Context(), photo.ID, "reader", sheets[:1]))
	b := secondLaptop(t, a)
	card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
	say := func(b *stacktest.Table, by, value, why string) {
		st, _ := b.Load()
		require.NoError(t, b.Store.Answer(t.Context(), st.OnPaper(store.Answer{
			Question: stack.BackKey(card), Value: value, By: by, Note: why, View: rules.CardView(st.Card(card).Card)})...))
	}
	state := func(b *stacktest.Table) rules.BackState {
		st, _ := b.Load()
		return st.Card(card).BackState
	}
	assert.Equal(t, rules.BackMissing, state(a))
	say(a, "Ada", stack.BackNoFault, "")
	say(b, "Bo", stack.BackClosed, "lost")
	assert.Equal(t, rules.BackIn, state(a))
	assert.Equal(t, rules.BackClosed, state(b))
	join(t, a, b)
	assert.Equal(t, rules.BackMissing, state(a))
	say(a, "Cleo", stack.BackClosed, "lost, says its judge")
	assert.Equal(t, rules.BackClosed, state(a))
	st, _ := a.Load()
	assert.Equal(t, "lost, says its judge", st.Card(card).BackReason)
}
