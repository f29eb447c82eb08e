package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// A row is set aside, and a newer photo shows it otherwise. In one copy of the race somebody has looked and says that it stays aside; in another
// one that is taken back, and the row is typed. Joined either way it is neither aside nor stands. Source: our own logic, as where it is set aside in
// one of them.
func TestAside_SaidToStaySoInOneCopyAndTakenBackInAnother_Waits(t *testing.T) {
	b := newTable(t)
	n := b.front(2, "")
	n.Read.Reading.Rows[0].Bib.State = sheetmodel.Doubtful
	n.Read.Reading.Rows[0].Bib.Doubts = []sheetmodel.Doubt{{Kind: sheetmodel.DoubtNotInGrammar, Detail: "for this test"}}
	b.add(n)
	s, _ := b.load()
	key := s.Rows[0].BibSeen.Key
	aside, err := b.store.Settle(t.Context(), store.Entry{Reading: key, Basis: sheetmodel.BasisSetAside, Note: "nobody can read it", By: "Ada", Session: "Ada", Sheet: s.Rows[0].Sheet.ID})
	require.NoError(t, err)
	b.add(b.front(2, "14"))
	b.laterCounts()
	for name, ahead := range hoursApart {
		t.Run(name, func(t *testing.T) {
			here, there := b.parted(0), b.parted(ahead)
			s, _ := there.load()
			for _, q := range s.Questions {
				if !q.Answered && len(q.Answers) == 1 {
					there.answer(q.Key, stack.AnswerSeen)
				}
			}
			require.NoError(t, here.store.Undo(t.Context(), aside[0].ID, "Ada", "Ada"))
			here.said("Bo", key, "14", s.Rows[0].Sheet.ID, false)
			require.Equal(t, sheetmodel.BibTwoLooks, here.rowState(1))
			require.Equal(t, sheetmodel.BibSetAside, there.rowState(1))
			before := here.parted(0)
			here.joins(there)
			assert.Equal(t, sheetmodel.BibWaiting, here.rowState(1))
			there.joins(before)
			assert.Equal(t, sheetmodel.BibWaiting, there.rowState(1), "the other way round")
			here.said("Cy", key, "14", s.Rows[0].Sheet.ID, false)
			assert.Equal(t, sheetmodel.BibTwoLooks, here.rowState(1), "somebody has typed it since")
		})
	}
}
