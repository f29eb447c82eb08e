package draft_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review"
	"gatefold/review/draft"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// A row that is covered may be the same fault written once more, and then its line waits for the answer to a question. Said
// of that line alone, it would tell what stands in the row: so the line stands as it does beside any other text, and each
// covered row says that it may take a line back. Source: our own logic.
func TestVeil_CoveredRowHoldsALine_ReadsAsBesideAnyOtherText(t *testing.T) {
	var said []string
	for _, second := range []string{"14", "22"} {
		b := stacktest.New(t)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"}, stacktest.Row{Bib: second, Code: "F", Gate: "6"})
		b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
		st, result := b.Load()
		require.Len(t, result.Calls, map[string]int{"14": 1, "22": 2}[second])
		require.Equal(t, second == "14", result.Calls[0].Waiting, "by all that is known")
		shown, veiled, covered := review.Veil(st, result)
		require.Equal(t, 1, covered)
		list, err := draft.New(shown, veiled, draft.Options{})
		require.NoError(t, err)
		s := list.Sections[0]
		require.Len(t, s.Proposed, 1)
		require.Len(t, s.Rows, 1)
		assert.NotEmpty(t, s.Incomplete, "it goes out on the referee's word only")
		said = append(said, s.Proposed[0].Bib+": "+draft.StakeWords(s.Rows[0]))
	}
	assert.Equal(t, "14: Once it is settled, this row can at most put 1 line on the list, or take back 1 line that is proposed until more is known.", said[0])
	assert.Equal(t, said[0], said[1])
}

// A covered row may also ask anew what was answered, as whether a racer who left the course was further down, and then the line waits. The
// list can't say so of that line, and says of all its lines alike that none is final, whatever stands in the row. Source: our own logic.
func TestVeil_CoveredRowAsksAnewWhatWasAnswered_AllLinesAreNotFinal(t *testing.T) {
	var said []string
	for _, second := range []string{"14", "46"} {
		b := stacktest.New(t)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "P", Gate: "3"})
		b.Card("Blue", 2, stacktest.Row{Bib: "14", Code: "F", Gate: "9"}, stacktest.Row{Bib: second, Code: "F", Gate: "12"})
		b.Type("Ada", stacktest.Key("Blue", 2, 1, sheetmodel.PartBib), "14")
		require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: "left-course/1/Blue/girls 14/3/9", Value: "counts", By: "Ada"}))
		st, result := b.Load()
		require.Equal(t, second == "14", result.Calls[0].Waiting, "by all that is known")
		shown, veiled, covered := review.Veil(st, result)
		require.Equal(t, 1, covered)
		list, err := draft.New(shown, veiled, draft.Options{})
		require.NoError(t, err)
		s := list.Sections[0]
		require.Len(t, s.Proposed, 1)
		assert.NotEmpty(t, s.Incomplete)
		assert.True(t, s.MayTakeBack())
		said = append(said, s.Proposed[0].Bib+", gate "+s.Proposed[0].Gate)
	}
	assert.Equal(t, "14, gate 9", said[0])
	assert.Equal(t, said[0], said[1])
}
