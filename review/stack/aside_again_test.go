package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// A row that nobody can read is set aside, its judge comes back and writes it again, and the card is photographed again. The row stays
// aside, for that is what a person said; that it can be read now is asked about once, and keeps the list open until somebody has looked.
// Source: our own logic.
func TestAside_ThenMendedAndPhotographedAgain_IsAskedAbout(t *testing.T) {
	b := newTable(t)
	doubtful := func(text string) store.NewSheet {
		n := b.front(2, text, "19")
		n.Read.Reading.Rows[0].Bib.State = sheetmodel.Doubtful
		n.Read.Reading.Rows[0].Bib.Doubts = []sheetmodel.Doubt{{Kind: sheetmodel.DoubtNotInGrammar, Detail: "for this test"}}
		return n
	}
	b.add(doubtful(""))
	s, _ := b.load()
	key := s.Rows[0].BibSeen.Key
	aside := func() {
		t.Helper()
		s, _ := b.load()
		_, err := b.store.Settle(t.Context(), store.Entry{Reading: key, Basis: sheetmodel.BasisSetAside, Note: "nobody can read it", By: "Ada", Session: "Ada", Sheet: s.Rows[0].Sheet.ID})
		require.NoError(t, err)
	}
	aside()
	b.add(doubtful(""))
	s, _ = b.load()
	assert.Empty(t, s.Questions, "as unreadable as before")
	b.add(b.front(2, "14", "19"))
	b.laterCounts()
	asked := func() []stack.PhotoQuestion {
		s, result := b.load()
		assert.Equal(t, sheetmodel.BibSetAside, s.Row(rowRef(2, 1)).BibState, "it stays so")
		var all []stack.PhotoQuestion
		for _, q := range s.Questions {
			if len(q.Answers) == 1 && !q.Answered {
				assert.Contains(t, q.Ask, "Row 1 of card 2 was set aside")
				assert.True(t, open(result, q.Ask))
				assert.NotContains(t, q.Ask, "14")
				all = append(all, q)
			}
		}
		return all
	}
	require.Len(t, asked(), 1)
	b.answer(asked()[0].Key, stack.AnswerSeen)
	assert.Empty(t, asked())
	aside()
	assert.Empty(t, asked(), "set aside as it is now")

	b = newTable(t)
	b.paper(1)
	s, _ = b.load()
	key = s.Rows[0].BibSeen.Key
	_, err := b.store.Settle(t.Context(), store.Entry{Reading: key, Basis: sheetmodel.BasisSetAside, Note: "nobody can read it", By: "Ada", Session: "Ada"})
	require.NoError(t, err)
	b.add(b.front(2, "14"))
	assert.Len(t, asked(), 1, "the paper was photographed since")
}
