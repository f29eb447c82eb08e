package storetest

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// redo puts back what was taken back: as it was, blind or not, as a new decision; nothing that was said since is overruled by it.
func redo(t *testing.T, open Opener) {
	for _, c := range []struct {
		name  string
		since func(t *testing.T, s *store.Store) // after it was taken back
		by    string
		want  error
	}{
		{"nothing since", func(*testing.T, *store.Store) {}, "Ada", nil},
		{"in another spelling", func(*testing.T, *store.Store) {}, "ADA", nil},
		{"the text was shown since", func(t *testing.T, s *store.Store) { serve(t, s, "Ada", "s1", true, bibKey) }, "Ada", nil},
		{"by somebody else", func(*testing.T, *store.Store) {}, "Bo", errors.New("only who typed it")},
		{"typed anew since", func(t *testing.T, s *store.Store) { settle(t, s, entry("Ada", "s1", "40")) }, "Ada", store.ErrSince},
		{"typed anew and taken back again", func(t *testing.T, s *store.Store) {
			require.NoError(t, s.Undo(t.Context(), settle(t, s, entry("Ada", "s1", "40")).ID, "Ada", "s1"))
		}, "Ada", store.ErrSince},
		{"set aside since", func(t *testing.T, s *store.Store) {
			e := entry("Bo", "s2", "")
			e.Basis, e.Note = sheetmodel.BasisSetAside, "can't be read"
			settle(t, s, e)
		}, "Ada", store.ErrSince},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := fresh(t, open)
			serve(t, s, "Ada", "s1", false, bibKey)
			first := settle(t, s, entry("Ada", "s1", "46"))
			require.True(t, first.Blind)
			require.NoError(t, s.Undo(t.Context(), first.ID, "Ada", "s1"))
			c.since(t, s)
			before, err := s.Decisions(t.Context())
			require.NoError(t, err)
			again, err := s.Redo(t.Context(), []int64{first.ID}, c.by, "s1")
			after, errAll := s.Decisions(t.Context())
			require.NoError(t, errAll)
			if c.want != nil {
				require.ErrorContains(t, err, c.want.Error())
				assert.Equal(t, before, after, "nothing was kept")
				return
			}
			require.NoError(t, err)
			require.Len(t, after, 2)
			assert.NotNil(t, after[0].Undone, "what was taken back stays in the log")
			assert.Nil(t, after[1].Undone)
			assert.Equal(t, "46", after[1].Text)
			assert.True(t, after[1].Blind, "it was typed before anything was seen, and says the same")
			assert.Greater(t, after[1].ID, first.ID)
			assert.Contains(t, after[1].Note, "put back")
			assert.Equal(t, after[1].ID, again[0].ID)
			assert.True(t, again[0].Blind)

			// It can be taken back like any other, and isn't put back twice.
			_, err = s.Redo(t.Context(), []int64{first.ID}, "Ada", "s1")
			require.ErrorIs(t, err, store.ErrSince)
			require.NoError(t, s.Undo(t.Context(), after[1].ID, "Ada", "s1"))
		})
	}

	s := fresh(t, open)
	seen := settle(t, s, entry("Ada", "s1", "46"))
	require.False(t, seen.Blind, "no ink was shown")
	_, err := s.Redo(t.Context(), []int64{seen.ID}, "Ada", "s1")
	require.ErrorIs(t, err, store.ErrNotFound, "it was not taken back")
	require.NoError(t, s.Undo(t.Context(), seen.ID, "Ada", "s1"))
	again, err := s.Redo(t.Context(), []int64{seen.ID}, "Ada", "s1")
	require.NoError(t, err)
	assert.False(t, again[0].Blind, "nothing becomes blind by it")
	_, err = s.Redo(t.Context(), []int64{seen.ID}, "", "s1")
	require.Error(t, err)
}

// judgeOfNewPhoto: a word of the judge's is one of the card as it was when they spoke. Said once more after another photo of the card it is
// kept anew, word for word as it may be, and what was taken back before is not put back after it.
func judgeOfNewPhoto(t *testing.T, open Opener) {
	s := fresh(t, open)
	asked := entry("Ada", "s1", "46")
	asked.Basis, asked.ReadBack = sheetmodel.BasisJudgeAsked, true
	first := settle(t, s, asked)
	assert.Equal(t, first.ID, settle(t, s, asked).ID, "a form that is sent twice")
	other := addPhoto(t, s, 1)
	require.NoError(t, s.AddSheets(t.Context(), other.ID, "reader", []store.NewSheet{Side(5, 3, "46")}))
	assert.Equal(t, first.ID, settle(t, s, asked).ID, "another card")
	p := addPhoto(t, s, 2)
	require.NoError(t, s.AddSheets(t.Context(), p.ID, "reader", []store.NewSheet{Side(4, 3, "46")}))
	second := settle(t, s, asked)
	assert.Greater(t, second.ID, first.ID)
	assert.True(t, second.ReadBack)
	require.NoError(t, s.Undo(t.Context(), second.ID, "Ada", "s1"))
	_, err := s.Redo(t.Context(), []int64{second.ID}, "Ada", "s1")
	require.NoError(t, err)
	require.NoError(t, s.Undo(t.Context(), first.ID, "Ada", "s1"))

	asked.By, asked.Session = "Bo", "s2"
	third := settle(t, s, asked)
	require.True(t, third.ReadBack)
	require.NoError(t, s.Undo(t.Context(), third.ID, "Bo", "s2"))
	p = addPhoto(t, s, 3)
	require.NoError(t, s.AddSheets(t.Context(), p.ID, "reader", []store.NewSheet{Side(4, 3, "46")}))
	_, err = s.Redo(t.Context(), []int64{third.ID}, "Bo", "s2")
	require.ErrorIs(t, err, store.ErrSince)
}
