package stack_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

// parted is a copy of a table's race whose laptop's clock goes otherwise.
func (b *table) parted(ahead time.Duration) *table {
	b.t.Helper()
	dir := filepath.Join(b.t.TempDir(), "copy")
	require.NoError(b.t, os.CopyFS(dir, os.DirFS(b.store.Dir())))
	clock := storetest.Clock()
	s, err := store.Open(b.t.Context(), dir, store.Options{Now: func() time.Time { return clock().Add(ahead) }})
	require.NoError(b.t, err)
	b.t.Cleanup(func() { assert.NoError(b.t, s.Close()) })
	return &table{t: b.t, race: b.race, store: s}
}

// A row was added with a box beside its ink. In one copy of the race it is taken out and added again, with another box; in another, which
// knows nothing of that, two people type what stands in the first box. Joined either way, whatever the clocks say, that is no look at what
// stands in the second. Source: our own logic, as where one copy holds both.
func TestAddedRow_BoxDrawnAnewInAnotherCopy_WhatWasSaidOfTheOtherIsNoLook(t *testing.T) {
	for name, ahead := range hoursApart {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			b.add(b.front(2, "12"))
			add := func(at *table, box string) {
				s, _ := at.load()
				require.NoError(t, at.store.Answer(t.Context(), s.OnPaper(store.Answer{Question: stack.AddedKey(rowRef(2, 3).CardKey, 3), Value: box, By: "Ada"})...))
			}
			stands := func(at *table) bool {
				s, _ := at.load()
				row := s.Row(rowRef(2, 3))
				require.NotNil(t, row)
				return row.BibState == sheetmodel.BibTwoLooks
			}
			add(b, "10.0,20.0,80.0,8.0")
			there := b.parted(ahead)
			s, _ := there.load()
			for _, by := range []string{"Bo", "Cy"} {
				there.said(by, store.Key(rowRef(2, 3).CardKey, sheetmodel.Front, stack.RowField(3, sheetmodel.PartBib)), "14", s.Rows[0].Sheet.ID, false)
			}
			require.True(t, stands(there))
			add(b, "")
			add(b, "10.0,30.0,80.0,8.0")
			before := b.parted(0)
			b.joins(there)
			assert.False(t, stands(b), "typed of another box")
			there.joins(before)
			assert.False(t, stands(there), "the other way round")
			s, _ = b.load()
			for _, by := range []string{"Di", "Ed"} {
				b.said(by, store.Key(rowRef(2, 3).CardKey, sheetmodel.Front, stack.RowField(3, sheetmodel.PartBib)), "14", s.Rows[0].Sheet.ID, false)
			}
			assert.True(t, stands(b), "typed of the box that is drawn now")
		})
	}
}

// A copy of the race strikes a row of a card by hand, or adds one; another one, which has the layout mended, has read the same photo as another
// form meanwhile, in which that row is another one. Joined, the mark is on no row there, and the card's rows wait; so it is where the first copy
// has read it anew as well before they are joined. Source: our own logic, as where one copy does both.
func TestMarks_OfAnotherFormInAnotherCopy_AreOnNoRow(t *testing.T) {
	card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
	for name, ahead := range hoursApart {
		for _, mark := range []store.Answer{
			{Question: stack.StruckKey(card, 1), Value: stack.Marked, By: "Bo"}, {Question: stack.AddedKey(card, 2), Value: "10.0,30.0,80.0,8.0", By: "Bo"},
		} {
			for _, both := range []bool{false, true} {
				t.Run(fmt.Sprintf("%s, %s, %v", name, mark.Question, both), func(t *testing.T) {
					b := stacktest.New(t)
					again := asForm(b, "another form", stacktest.Row{Bib: "19", Code: "F", Gate: "9"})
					keep(t, b, "first.jpg", "reader 1", asForm(b, "one form", stacktest.Row{Bib: "14", Code: "F", Gate: "6"}))
					other := filepath.Join(t.TempDir(), "other")
					require.NoError(t, os.CopyFS(other, os.DirFS(b.Store.Dir())))
					clock := storetest.Clock()
					there, err := store.Open(t.Context(), other, store.Options{Now: func() time.Time { return clock().Add(ahead) }})
					require.NoError(t, err)
					keep(t, b, "first.jpg", "reader 2", again)
					copied := *b
					copied.Store = there
					st, _ := copied.Load()
					require.NoError(t, there.Answer(t.Context(), st.OnPaper(mark)...))
					if both {
						keep(t, &copied, "first.jpg", "reader 2", again)
					}
					_, err = b.Store.Join(t.Context(), there)
					require.NoError(t, errors.Join(err, there.Close()))
					st, _ = b.Load()
					require.Equal(t, "another form", st.Rows[0].Sheet.Layout)
					assert.False(t, st.Rows[0].Struck, "it is another row")
					assert.NotNil(t, firstOpen(st))
					if mark.Value == stack.Marked || both {
						assert.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState)
					}
					if both {
						assert.Len(t, st.Rows, 1, "nobody has seen a second row on this form")
					}
				})
			}
		}
	}
}

// Two people type a row that was added by hand. One takes that back, the row's box is drawn anew, and they put back what they had typed: it is no
// look at what stands in the new box. Source: our own logic.
func TestAddedRow_PutBackAfterItsBoxWasDrawnAnew_IsNoLook(t *testing.T) {
	for _, box := range []string{"10.0,20.0,80.0,8.0", "10.0,30.0,80.0,8.0"} {
		b := newTable(t)
		b.add(b.front(2, "12"))
		s, _ := b.load()
		add := func(box string) {
			require.NoError(t, b.store.Answer(t.Context(), s.OnPaper(store.Answer{Question: stack.AddedKey(rowRef(2, 3).CardKey, 3), Value: box, By: "Ada"})...))
		}
		key := store.Key(rowRef(2, 3).CardKey, sheetmodel.Front, stack.RowField(3, sheetmodel.PartBib))
		add("10.0,20.0,80.0,8.0")
		b.said("Bo", key, "14", s.Rows[0].Sheet.ID, false)
		all, err := b.store.Decisions(t.Context())
		require.NoError(t, err)
		last := all[len(all)-1]
		require.NoError(t, b.store.Undo(t.Context(), last.ID, last.By, last.Session))
		add("")
		add(box)
		_, err = b.store.Redo(t.Context(), []int64{last.ID}, last.By, last.Session)
		require.NoError(t, err)
		b.said("Cy", key, "14", s.Rows[0].Sheet.ID, false)
		s, _ = b.load()
		assert.Equal(t, box == "10.0,20.0,80.0,8.0", s.Row(rowRef(2, 3)).BibState == sheetmodel.BibTwoLooks, box)
	}
}

// A row that was added by hand is read aloud by its judge, and its box is drawn anew. The judge is asked again, by the same person, and says the
// same: that is said of what stands in the new box, and is no form that was sent twice. Source: our own logic, as where another photo came in.
func TestAddedRow_JudgeSaysTheSameOfANewBox_Counts(t *testing.T) {
	b := newTable(t)
	b.add(b.front(2, "12"))
	s, _ := b.load()
	add := func(box string) {
		require.NoError(t, b.store.Answer(t.Context(), s.OnPaper(store.Answer{Question: stack.AddedKey(rowRef(2, 3).CardKey, 3), Value: box, By: "Ada"})...))
	}
	key := store.Key(rowRef(2, 3).CardKey, sheetmodel.Front, stack.RowField(3, sheetmodel.PartBib))
	state := func() sheetmodel.BibState {
		s, _ := b.load()
		return s.Row(rowRef(2, 3)).BibState
	}
	asked := func() { b.said("Bo", key, "14", s.Rows[0].Sheet.ID, true) }
	add("10.0,20.0,80.0,8.0")
	asked()
	add("")
	add("10.0,30.0,80.0,8.0")
	asked()
	b.said("Di", key, "14", s.Rows[0].Sheet.ID, false)
	assert.Equal(t, sheetmodel.BibTwoLooks, state())
}
