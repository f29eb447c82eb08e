package stack_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Two photos of a card differ. In one copy of the race somebody says that they are of two papers with one number, in another one that the later
// one shows the card as it was handed in: joined either way, no bib stands on the earlier photo until somebody has said which card each is. Source:
// our own logic, as of whatever two copies say differently.
func TestTwoPapers_SaidInOneCopyAndOnePaperInAnother_NeitherCounts(t *testing.T) {
	for name, ahead := range hoursApart {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			b.add(b.front(2, "12"))
			s, _ := b.load()
			b.said("Bo", s.Rows[0].BibSeen.Key, "12", s.Rows[0].Sheet.ID, false)
			b.add(b.front(2, "14"))
			s, _ = b.load()
			i := slices.IndexFunc(s.Questions, func(q stack.PhotoQuestion) bool { return !q.Answered && q.Earlier != 0 })
			require.GreaterOrEqual(t, i, 0)
			q := s.Questions[i]
			there := b.parted(ahead)
			there.answer(q.Key, stack.AnswerLater)

			var of [2]store.Sheet
			var err error
			for k, id := range []int64{q.Earlier, q.Later} {
				of[k], err = b.store.Sheet(t.Context(), id)
				require.NoError(t, err)
			}
			which := func(at *table, sheet store.Sheet, value string) {
				require.NoError(t, at.store.Answer(t.Context(), store.Answer{Question: store.WhichCard(sheet.Photo, sheet.Part), Value: value, By: "Ada"}))
			}
			card, another := store.CardName(of[0].Card), store.CardName(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 901})
			which(b, of[0], card)
			which(b, of[1], "not-known")
			require.NoError(t, b.store.Answer(t.Context(), store.Answer{Question: store.TwoPapers(of[1].Card), Value: store.AnswerTwoPapers, By: "Ada"}))
			which(b, of[1], another)
			require.Equal(t, sheetmodel.BibTwoLooks, b.rowState(1))
			before := b.parted(0)

			b.joins(there)
			there.joins(before)
			for _, at := range []*table{b, there} {
				s, result := at.load()
				assert.Len(t, s.Unnamed, 2)
				assert.Empty(t, s.Rows)
				assert.True(t, open(result, s.UnnamedWords()))
			}
			which(b, of[0], card)
			which(b, of[1], another)
			assert.Equal(t, sheetmodel.BibTwoLooks, b.rowState(1), "two papers, says who knows of both")
			which(there, of[0], card)
			which(there, of[1], card)
			assert.NotEqual(t, sheetmodel.BibTwoLooks, there.rowState(1), "one paper, and the later photo of it counts")
		})
	}
}
