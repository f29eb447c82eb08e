package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// The placing list says who judged a card. If that person typed its row at the desk and is then asked by somebody else, nobody
// but they has seen that bib: against clear ink, and on a card without a photo, the row waits. Source: our own logic.
func TestLooks_JudgeAtTheDesk_IsNoSecondPersonBesideTheirOwnWord(t *testing.T) {
	for _, photo := range []bool{true, false} {
		for _, by := range []string{"judge", "Cy"} {
			b := stacktest.New(t)
			card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
			if photo {
				b.Card("Blue", 1, stacktest.Row{Bib: "46", Code: "F", Gate: "6"})
			} else {
				require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: card, Rows: 1, By: "Ada"}))
			}
			st, _ := b.Load()
			require.NotEmpty(t, st.Cards[0].Judge)
			if by == "judge" {
				by = st.Cards[0].Judge
			}
			key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
			b.Type(by, key, "14")
			b.Ask("Bo", key, "14")
			st, _ = b.Load()
			assert.Equal(t, by == "Cy", st.Rows[0].BibState == sheetmodel.BibTwoLooks, "%v, %s: %+v", photo, by, st.Rows[0].BibSeen.Seen)
		}
	}
}
