package stack_test

import (
	"database/sql"
	"errors"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

// tableAhead is a table whose laptop's clock is ahead of the others.
func tableAhead(t *testing.T, ahead time.Duration) *table {
	t.Helper()
	clock := storetest.Clock()
	s, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: func() time.Time { return clock().Add(ahead) }})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return &table{t: t, race: demoRace(t), store: s}
}

func (b *table) joins(other *table) {
	b.t.Helper()
	_, err := b.store.Join(b.t.Context(), other.store)
	require.NoError(b.t, err)
}

// ofOlderProgram takes from all that was said what its copy held then.
func (b *table) ofOlderProgram() {
	b.t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(b.store.Dir(), store.FileName))
	require.NoError(b.t, err)
	_, err = db.ExecContext(b.t.Context(), `UPDATE decisions SET seen = ''; UPDATE answers SET seen = ''; UPDATE gap_reasons SET seen = ''`)
	require.NoError(b.t, errors.Join(err, db.Close()))
}

// row2Stands says of whatever is asked that it stands, and reports whether row 2 of card 2 has its looks.
func (b *table) row2Stands() bool {
	b.t.Helper()
	s, _ := b.load()
	for _, q := range s.Questions {
		if slices.ContainsFunc(q.Answers, func(a sheetmodel.Answer) bool { return a.Value == stack.AnswerStands }) {
			b.answer(q.Key, stack.AnswerStands)
		}
	}
	s, _ = b.load()
	row := s.Row(rowRef(2, 2))
	require.NotNil(b.t, row, "two people typed it")
	return row.BibState == sheetmodel.BibTwoLooks && row.CodeSure
}

var hoursApart = map[string]time.Duration{"an hour behind": -time.Hour, "an hour ahead": time.Hour}

// A row was typed from the paper in a copy of the race that didn't hold the photo which doesn't show it: whatever the two clocks say, that is
// no look at the card as it is. Source: our own logic.
func TestEntered_InACopyThatDidNotHoldThePhoto_IsTypedAnew(t *testing.T) {
	for name, ahead := range hoursApart {
		for _, later := range []bool{false, true} {
			t.Run(name, func(t *testing.T) {
				there := tableAhead(t, ahead)
				there.paper(2)
				there.row2()
				b := newTable(t)
				b.paper(2)
				if later {
					for range 20 {
						b.add(b.front(3))
					}
				}
				b.add(b.front(2, "14"))
				b.joins(there)
				assert.False(t, b.row2Stands())
				there.joins(b)
				assert.False(t, there.row2Stands(), "the other way round")
			})
		}
	}
}

// Where that copy held the photo, the row was typed of the card as it has been since: it stays typed, whatever the clocks say.
// Source: our own logic.
func TestEntered_InACopyThatHeldThePhoto_StaysTyped(t *testing.T) {
	for name, ahead := range hoursApart {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			b.paper(2)
			b.add(b.front(2, "14"))
			there := tableAhead(t, ahead)
			there.joins(b)
			there.row2()
			require.True(t, there.row2Stands())
			b.joins(there)
			assert.True(t, b.row2Stands())
		})
	}
}

// Of what an older program kept, nobody knows what its copy held: numbers and clocks tell, and either is enough to have it typed anew.
// Source: our own logic.
func TestEntered_ByAnOlderProgram_IsToldByTheClock(t *testing.T) {
	for name, one := range map[string]struct {
		ahead  time.Duration
		stands bool
	}{"an hour behind": {-time.Hour, false}, "an hour ahead": {time.Hour, true}} {
		t.Run(name, func(t *testing.T) {
			there := tableAhead(t, one.ahead)
			there.paper(2)
			there.row2()
			there.ofOlderProgram()
			b := newTable(t)
			b.paper(2)
			b.add(b.front(2, "14"))
			b.joins(there)
			assert.Equal(t, one.stands, b.row2Stands(), "the hole that what is kept now closes")
		})
	}
}

// A judge named a bib in a copy that didn't hold the photo on which another one stands in the row's second box: it may have been written
// there since. Source: our own logic, as where one copy holds both.
func TestTies_JudgeSpokeInACopyThatDidNotHoldTheSecondBox_IsAskedAgain(t *testing.T) {
	for name, ahead := range hoursApart {
		t.Run(name, func(t *testing.T) {
			front := func(b *table, second string, state sheetmodel.State) {
				n := b.blurred(2, "14")
				again := &n.Read.Reading.Rows[0].BibAgain
				again.Text, again.State = second, state
				b.add(n)
				b.laterCounts()
				s, _ := b.load()
				tie := look.Tied{Row: 1, Second: second, Differs: second != ""}
				require.NoError(t, b.store.AddTies(t.Context(), store.CardTies{Front: s.Card(rowRef(2, 1).CardKey).Front.ID, Reader: "reader", Ties: []look.Tied{tie}}))
			}
			b := newTable(t)
			front(b, "", sheetmodel.Doubtful)
			there := tableAhead(t, ahead)
			there.joins(b)
			s, _ := there.load()
			there.said("Ada", s.Rows[0].BibSeen.Key, "14", s.Rows[0].Sheet.ID, true)
			s, _ = there.load()
			require.Equal(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState)
			front(b, "19", sheetmodel.Clear)
			b.joins(there)
			s, _ = b.load()
			assert.Equal(t, sheetmodel.BibWaiting, s.Rows[0].BibState)
		})
	}
}

// A back came in, and a copy that didn't hold it says why the card is missing: the reason says nothing of that back. Source: our own logic.
func TestGapReason_OfACopyThatDidNotHoldTheBack_LeavesItOpen(t *testing.T) {
	there := newTable(t)
	card := rowRef(2, 1).CardKey
	require.NoError(t, there.store.CloseGap(t.Context(), store.GapReason{Card: card, Reason: "card lost", By: "Bo"}))
	b := newTable(t)
	b.add(b.back(2))
	b.joins(there)
	s, _ := b.load()
	assert.Empty(t, s.Card(card).GapReason)
	require.NoError(t, b.store.CloseGap(t.Context(), store.GapReason{Card: card, Reason: "front lost", By: "Bo"}))
	s, _ = b.load()
	assert.Equal(t, "front lost", s.Card(card).GapReason, "said with the back known")
}
