package stack_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// A row was entered that the photo doesn't show. In one copy of the race somebody says that it stands on the card, in another one that nothing
// stands there, after one more person had entered it: joined either way, it is asked once more. Source: our own logic, as
// of whatever two copies say differently.
func TestEntered_StandsInOneCopyAndNotInAnother_IsAskedAgain(t *testing.T) {
	for name, ahead := range hoursApart {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			b.add(b.front(2, "12"))
			key := store.Key(rowRef(2, 3).CardKey, sheetmodel.Front, stack.RowField(3, sheetmodel.PartBib))
			asked := func(at *table) string {
				s, _ := at.load()
				i := slices.IndexFunc(s.Questions, func(q stack.PhotoQuestion) bool { return strings.HasPrefix(q.Key, "row-entered/") })
				require.GreaterOrEqual(t, i, 0)
				return s.Questions[i].Key
			}
			s, _ := b.load()
			b.said("Ada", key, "14", s.Rows[0].Sheet.ID, false)
			b.said("Bo", key, "14", s.Rows[0].Sheet.ID, false)
			there := b.parted(ahead)
			b.answer(asked(b), stack.AnswerStands)
			require.Equal(t, sheetmodel.BibTwoLooks, b.rowState(3))
			before := b.parted(0)

			there.said("Cy", key, "14", s.Rows[0].Sheet.ID, false)
			there.answer(asked(there), stack.AnswerNotThere)
			b.joins(there)
			assert.Equal(t, sheetmodel.BibWaiting, b.rowState(3))
			there.joins(before)
			assert.Equal(t, sheetmodel.BibWaiting, there.rowState(3), "the other way round")
			there.answer(asked(there), stack.AnswerStands)
			assert.Equal(t, sheetmodel.BibTwoLooks, there.rowState(3), "said once more, by who knows of both")
			b.answer(asked(b), stack.AnswerNotThere)
			assert.Equal(t, sheetmodel.BibSetAside, b.rowState(3), "so it is if that is no")
		})
	}
}

// rowState is how the bib of a row of card 2 stands.
func (b *table) rowState(n int) sheetmodel.BibState {
	b.t.Helper()
	s, _ := b.load()
	row := s.Row(rowRef(2, n))
	require.NotNil(b.t, row)
	return row.BibState
}
