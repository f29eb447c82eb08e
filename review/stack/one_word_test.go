package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// A judge saw a racer leave the course, and another judge below wrote a fault of the same bib: both wait for an answer. The bib of the one
// who left was read by no reader: it rests on its judge's word and somebody who typed it. Where that entry is taken back, or who made it
// and who wrote the judge's word down are forgotten as one person, the judge's word is left. It doesn't stand, and holds the line below still:
// a look that is lost raises nothing. Source: our own logic, found by the walk over HTTP.
func TestJudgesWord_OfInkThatNobodyReads_HoldsTheLineItSpeaksAgainst(t *testing.T) {
	for name, lose := range map[string]func(b *table, typed int64){
		"taken back": func(b *table, typed int64) {
			require.NoError(b.t, b.store.Undo(b.t.Context(), typed, "Di", "Di"))
		},
		"forgotten": func(b *table, _ int64) {
			_, err := b.store.Forget(b.t.Context(), store.Forget{Match: func(name string) bool { return name == "Ada" || name == "Di" }, Words: []string{"Ada", "Di"}, By: "the referee"})
			require.NoError(b.t, err)
		},
	} {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			b.race.Run(1).DidNotEnd = sheetmodel.BibList{Given: sheetmodel.ListUnknown}
			left := b.front(1, "")
			row := &left.Read.Reading.Rows[0]
			row.Bib.State, row.Code.Text = sheetmodel.Doubtful, "P"
			left.Read.Alone = nil
			b.add(left, b.back(1))
			b.add(b.front(2, "14"), b.back(2))
			s, _ := b.load()
			leaves, fault := s.Row(rowRef(1, 1)), s.Row(rowRef(2, 1))
			b.said("Ed", fault.BibSeen.Key, "14", fault.Sheet.ID, false)
			_, result := b.load()
			require.Len(t, result.Calls, 1)
			require.False(t, result.Calls[0].Waiting, "nobody knows yet who left")
			b.said("Ada", leaves.BibSeen.Key, "14", leaves.Sheet.ID, true)
			b.said("Di", leaves.BibSeen.Key, "14", leaves.Sheet.ID, false)
			s, result = b.load()
			require.Equal(t, sheetmodel.BibTwoLooks, s.Row(rowRef(1, 1)).BibState)
			require.True(t, result.Calls[0].Waiting)
			decisions, err := b.store.Decisions(t.Context())
			require.NoError(t, err)
			lose(b, decisions[len(decisions)-1].ID)
			s, result = b.load()
			assert.Equal(t, sheetmodel.BibOneLook, s.Row(rowRef(1, 1)).BibState)
			require.Len(t, result.Calls, 1)
			assert.True(t, result.Calls[0].Waiting)
		})
	}
}

// What happened isn't settled by a judge's word alone, where no reader makes anything of it. Source: our own logic.
func TestJudgesWord_OfACodeThatNobodyReads_SettlesNothing(t *testing.T) {
	b := newTable(t)
	n := b.front(2, "14")
	n.Read.Reading.Rows[0].Code.Text, n.Read.Reading.Rows[0].Code.State = "", sheetmodel.Doubtful
	b.add(n, b.back(2))
	s, _ := b.load()
	b.said("Ada", s.Rows[0].Code.Key, "F", s.Rows[0].Sheet.ID, true)
	s, _ = b.load()
	assert.False(t, s.Rows[0].CodeSure)
}
