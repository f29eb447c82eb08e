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

// So it is for whoever took over from the judge during the run, for it may be they who wrote the row; and a card whose gates
// were bound without a name is still its judge's. Source: our own logic.
func TestLooks_WhoTookOverAtThePlace_IsNoSecondPersonBesideTheJudgesWord(t *testing.T) {
	for by, stands := range map[string]bool{"Ida Berg": false, "ida  berg": false, "Cy": true} {
		b := stacktest.New(t)
		card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
		place := &b.Race.Run(1).Course("Blue").Places[0]
		require.Equal(t, 1, place.Card)
		place.Relief = []sheetmodel.Relief{{At: "10:20", Judge: "Ida Berg"}}
		require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: card, Rows: 1, By: "Ada"}))
		key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
		b.Type(by, key, "14")
		b.Ask("Bo", key, "14")
		st, _ := b.Load()
		assert.Equal(t, stands, st.Rows[0].BibState == sheetmodel.BibTwoLooks, "%s: %+v", by, st.Rows[0].BibSeen.Seen)
	}
	b := stacktest.New(t)
	card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
	judge := b.Race.Run(1).Course("Blue").Places[0].Judge
	require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: card, Rows: 1, By: "Ada"}))
	require.NoError(t, b.Store.Bind(t.Context(), store.Binding{Card: card, Run: 1, Course: "Blue", Gates: []string{"3", "4"}, Source: "header", By: "Ada"}))
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	b.Type(judge, key, "14")
	b.Ask("Bo", key, "14")
	st, _ := b.Load()
	assert.Equal(t, judge, st.Cards[0].Judge)
	assert.Equal(t, sheetmodel.BibOneLook, st.Rows[0].BibState)
}

// A judge typed their own card at the desk, and was asked by somebody else: one person twice. Once their name is forgotten, nobody
// can say so any more, and forgetting makes no second person of them. What two other people said stands. Source: our own logic.
func TestLooks_JudgeForgotten_BecomesNoSecondPerson(t *testing.T) {
	const name = "Ida Berg"
	b := stacktest.New(t)
	for card := 1; card <= 3; card++ {
		b.Race.Run(1).Course("Blue").Places[card-1].Judge = ""
		key := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card}
		judge := name
		if card == 3 {
			judge = "Lou Moss"
		}
		require.NoError(t, b.Store.Bind(t.Context(), store.Binding{Card: key, Run: 1, Course: "Blue", Gates: []string{"3"}, Judge: judge, Source: "header", By: "Cy"}))
		require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: key, Rows: 1, By: "Cy"}))
	}
	bib := func(card int) string { return stacktest.Key("Blue", card, 1, sheetmodel.PartBib) }
	b.Type(name, bib(1), "14")
	b.Ask("Bo", bib(1), "14")
	b.Type("Cy", bib(2), "19")
	b.Ask("Bo", bib(2), "19")
	b.Type(name, bib(3), "22")
	b.Ask("Bo", bib(3), "22")
	stands := func() (all []bool) {
		st, _ := b.Load()
		require.Len(t, st.Rows, 3)
		for _, r := range st.Rows {
			all = append(all, r.BibState == sheetmodel.BibTwoLooks)
		}
		return all
	}
	require.Equal(t, []bool{false, true, true}, stands())
	_, err := b.Store.Forget(t.Context(), store.Forget{Match: func(n string) bool { return n == name }, Words: []string{name}, By: "race secretary"})
	require.NoError(t, err)
	assert.Equal(t, []bool{false, true, true}, stands())
}
