package review_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// The judge named a bib otherwise than two writings were read, and whoever wrote that down took it back: the two writings don't stand on the reader's
// word again until one more person, or the judge, has read it. Source: our own logic, as for what a person read otherwise.
func TestReadOtherwise_TheJudgesWordTakenBack_StaysAQuestion(t *testing.T) {
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	for name, end := range map[string]func(b *stacktest.Table){
		"a person": func(b *stacktest.Table) { b.Type("Di", key, "14") },
		"judge":    func(b *stacktest.Table) { b.Ask("Di", key, "14") }, // Cy has tried another bib
	} {
		b := withLine(t)
		b.Ask("Cy", key, "19")
		require.NoError(t, b.Store.Undo(t.Context(), decisionsOf(t, b, "Cy")[0].ID, "Cy", "Cy"))
		st, result := b.Load()
		assert.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState, name)
		assert.Empty(t, result.Calls, name)
		end(b)
		st, _ = b.Load()
		assert.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState, "%s: %s", name, st.Rows[0].Reason)
	}
}

// Somebody typed a card without a photo otherwise than the photo is read that comes in then, and took that back, before or after: one more person tells. Source: our own logic.
func TestReadOtherwise_FromThePaperAndTakenBack(t *testing.T) {
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	for _, back := range []bool{false, true} { // standing, it is a question as well
		b := stacktest.New(t)
		card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
		require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: card, Rows: 1, By: "Bo"}))
		b.Type("Bo", key, "19")
		if back {
			require.NoError(t, b.Store.Undo(t.Context(), decisionsOf(t, b, "Bo")[0].ID, "Bo", "Bo"))
		}
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
		st, _ := b.Load()
		c := st.Cards[0]
		require.NoError(t, b.Store.AddTies(t.Context(), store.CardTies{
			Front: c.Front.ID, Back: c.Back.ID, Reader: "test reader", Ties: []look.Tied{{Row: 1, Panel: "B", Entry: 1, Second: "14", Text: "14", Clear: true}},
		}))
		st, result := b.Load()
		assert.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState, back)
		assert.Empty(t, result.Calls, back)
		b.Type("Cy", key, "14")
		st, _ = b.Load()
		assert.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState, "%v: %s", back, st.Rows[0].Reason)
	}
}

// Whoever wrote the judge's word down and took it back can't end the wait with another one, as the store has it: they were told that the first doesn't
// fit. The page says so, and what is left to one person alone; the list still goes out with the gap. Source: our own logic.
func TestReadOtherwise_TheJudgesWordTakenBack_OnePersonAloneIsToldWhatIsLeft(t *testing.T) {
	b := withLine(t)
	p := sit(t, open(t, b), "Cy")
	const says = "another one counts where somebody else asks the judge"
	b.Ask("Cy", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "19")
	require.NoError(t, b.Store.Undo(t.Context(), decisionsOf(t, b, "Cy")[0].ID, "Cy", "Cy"))
	page := p.get(bibPage(1, 1)).body
	assert.Contains(t, page, says)
	assert.Contains(t, page, "let the list go out with it open")
	b.Ask("Cy", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	st, result := b.Load()
	assert.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState)
	assert.Empty(t, result.Calls)
	assert.Contains(t, p.get("/posting").body, "The list goes out on the referee")
}
