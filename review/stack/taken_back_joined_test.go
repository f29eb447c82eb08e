package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Two writings were read alike, somebody read them otherwise, or wrote down that the judge had, and took that back: the bib waits. On the other laptop the same person
// had seen the text. Joined, their entry was no unseen one any more, and the bib stood again on the reader's word alone. What another copy
// has shown takes a look away, and no doubt. Source: our own logic, after design, section 5: joining raises nothing.
func TestJoined_ReadOtherwiseAndTakenBack_StaysAQuestion(t *testing.T) {
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	for name, say := range map[string]func(a *stacktest.Table){
		"typed":     func(a *stacktest.Table) { a.Type("Ada", key, "19") },
		"the judge": func(a *stacktest.Table) { a.Ask("Ada", key, "19") },
		"nothing there": func(a *stacktest.Table) {
			require.NoError(t, a.Store.Serve(t.Context(), store.Served{Session: "Ada", Person: "Ada", Readings: []string{key}, What: "test"}))
			_, err := a.Store.Settle(t.Context(), store.Entry{Reading: key, Basis: sheetmodel.BasisNoWriting, By: "Ada", Session: "Ada"})
			require.NoError(t, err)
		},
	} {
		a := stacktest.New(t)
		a.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
		st, _ := a.Load()
		c := st.Cards[0]
		require.NoError(t, a.Store.AddTies(t.Context(), store.CardTies{
			Front: c.Front.ID, Back: c.Back.ID, Reader: "test reader", Ties: []look.Tied{{Row: 1, Panel: "B", Entry: 1, Second: "14", Text: "14", Clear: true}},
		}))
		_, result := a.Load()
		require.Len(t, result.Calls, 1, name)
		b := secondLaptop(t, a)
		say(a)
		decisions, err := a.Store.Decisions(t.Context())
		require.NoError(t, err)
		require.NoError(t, a.Store.Undo(t.Context(), decisions[0].ID, "Ada", "Ada"))
		st, _ = a.Load()
		require.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState, name)
		require.NoError(t, b.Store.Serve(t.Context(), store.Served{Session: "there", Person: "Ada", Readings: []string{key}, Reveals: true, What: "test"}))

		require.Equal(t, 1, join(t, a, b).Sighted, name)
		join(t, b, a)
		for _, laptop := range []*stacktest.Table{a, b} {
			st, result = laptop.Load()
			assert.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState, name)
			assert.Empty(t, result.Calls, name)
		}
		a.Type("Cy", key, "14")
		st, _ = a.Load()
		assert.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState, "%s: %s", name, st.Rows[0].Reason)
	}
}
