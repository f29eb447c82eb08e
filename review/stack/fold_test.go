package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// A line through a row was said to be a fold, and what stands there was asked of its judge. Another photo of the card shows a line too:
// it may be one that the judge has drawn since. Source: our own logic.
func TestStruckRow_SaidToStandAtAnotherPhoto_IsAskedAgain(t *testing.T) {
	b := newTable(t)
	folded := func() store.NewSheet {
		n := b.front(2, "14")
		row := &n.Read.Reading.Rows[0]
		row.Struck = true
		for _, r := range []*sheetmodel.Reading{&row.Bib, &row.Code, &row.Gate} {
			r.Doubt(sheetmodel.DoubtStruckOut, "for this test")
		}
		return n
	}
	key, struck := rules.StruckAnswer(rowRef(2, 1))
	stands := func() {
		s, _ := b.load()
		require.NoError(t, b.store.Answer(t.Context(), s.OnPaper(store.Answer{Question: key, Value: "stands", By: "Ada"})...))
	}
	calls := func() []bool {
		_, result := b.load()
		var waiting []bool
		for _, c := range result.Calls {
			waiting = append(waiting, c.Waiting)
		}
		return waiting
	}
	b.add(folded(), b.back(2))
	stands()
	s, _ := b.load()
	for part, text := range map[string]string{"bib": "14", "code": "F", "gate": "7"} {
		_, err := b.store.Settle(t.Context(), store.Entry{
			Reading: "run1/Blue/card-2/front/row-01." + part, Text: text, Basis: sheetmodel.BasisJudgeAsked, ReadBack: true,
			By: "Bo", Session: "Bo", Sheet: s.Row(rowRef(2, 1)).Sheet.ID,
		})
		require.NoError(t, err)
	}
	require.Equal(t, []bool{false}, calls())

	photos, err := b.store.Photos(t.Context())
	require.NoError(t, err)
	require.NoError(t, b.store.AddSheets(t.Context(), photos[0].ID, "better reader", []store.NewSheet{b.back(2), folded()}))
	assert.Equal(t, []bool{false}, calls(), "the same photo, read again")

	b.add(folded(), b.back(2))
	assert.Empty(t, calls())
	s, result := b.load()
	assert.Equal(t, rules.MayBeStruck, result.Standings[0].Why)
	stands()
	assert.Equal(t, []bool{false}, calls())

	require.NoError(t, b.store.Answer(t.Context(), s.OnPaper(store.Answer{Question: key, Value: struck, By: "Ada"})...))
	b.add(folded(), b.back(2))
	assert.Empty(t, calls(), "what is struck out stays so")
	_, result = b.load()
	assert.NotEqual(t, rules.MayBeStruck, result.Standings[0].Why)
}
