package storetest

import (
	"bytes"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// content is everything a store says it holds.
type content struct {
	photos    []store.Photo
	sheets    []store.Sheet
	decisions []store.Decision
	bindings  []store.Binding
	answers   []store.Answer
	gaps      []store.GapReason
	paper     []store.PaperCard
	served    []store.Served
	ties      []store.CardTies
	heard     []store.HeardEntry
}

func contentOf(t *testing.T, s *store.Store) content {
	t.Helper()
	var c content
	var errs [10]error
	c.photos, errs[0] = s.Photos(t.Context())
	c.sheets, errs[1] = s.Sheets(t.Context())
	c.decisions, errs[2] = s.Decisions(t.Context())
	c.bindings, errs[3] = s.Bindings(t.Context())
	c.answers, errs[4] = s.Answers(t.Context())
	c.gaps, errs[5] = s.GapReasons(t.Context())
	c.paper, errs[6] = s.PaperCards(t.Context())
	c.served, errs[7] = s.ServedLog(t.Context())
	c.ties, errs[8] = s.Ties(t.Context())
	c.heard, errs[9] = s.HeardLog(t.Context())
	require.NoError(t, errors.Join(errs[:]...))
	return c
}

// day is every kind of write once, in the order of a race day.
func day(t *testing.T) []func(*store.Store) error {
	card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 4}
	add := func(s *store.Store, n int) (store.Photo, error) {
		p, _, err := s.AddPhoto(t.Context(), "card.jpg", bytes.NewReader(jpeg(n)), -1, time.Time{})
		return p, err
	}
	return []func(*store.Store) error{
		func(s *store.Store) error { _, err := add(s, 1); return err },
		func(s *store.Store) error { _, err := add(s, 2); return err },
		func(s *store.Store) error {
			p, err := add(s, 1)
			if err != nil {
				return err
			}
			return s.AddSheets(t.Context(), p.ID, "reader", []store.NewSheet{Side(4, 3, "46")}, store.Refusal{Fault: "cut"})
		},
		func(s *store.Store) error {
			sheets, err := s.Sheets(t.Context())
			if err != nil {
				return err
			}
			return s.AddTies(t.Context(), store.CardTies{Front: sheets[0].ID, Reader: "reader", Ties: []look.Tied{{Row: 3, Text: "46", Clear: true}}})
		},
		func(s *store.Store) error {
			p, err := add(s, 2)
			if err != nil {
				return err
			}
			return s.Refuse(t.Context(), p.ID, "reader", store.Refusal{Fault: "blur", Detail: "0.7 mm", Remedy: "retake"})
		},
		func(s *store.Store) error {
			return s.Hear(t.Context(), store.HeardEntry{Run: 1, Course: "Blue", Clock: "11:06", From: "radio", Bib: sheetmodel.Bib{Number: "19"}, Gate: "27", By: "Ada"})
		},
		func(s *store.Store) error {
			return s.Bind(t.Context(), store.Binding{Card: card, Run: 1, Course: "Blue", Gates: []string{"1", "2"}, Source: "header", By: "Ada"})
		},
		func(s *store.Store) error {
			return s.Serve(t.Context(), store.Served{Session: "s1", Person: "Ada", Readings: []string{bibKey}, Sheet: 7, What: "entry"})
		},
		func(s *store.Store) error { _, err := s.Settle(t.Context(), entry("Ada", "s1", "46")); return err },
		func(s *store.Store) error {
			return s.Answer(t.Context(), store.Answer{Question: "lost-ski/40", Value: "two", By: "Ada"})
		},
		func(s *store.Store) error {
			return s.CloseGap(t.Context(), store.GapReason{Card: card, Reason: "judge went home", By: "Ada"})
		},
		func(s *store.Store) error {
			return s.TypeFromPaper(t.Context(), store.PaperCard{Card: card, Rows: 2, By: "Ada"})
		},
		func(s *store.Store) error {
			all, err := s.Decisions(t.Context())
			if err != nil {
				return err
			}
			return s.Undo(t.Context(), all[0].ID, "Ada", "s1")
		},
	}
}

func reopened(t *testing.T, open Opener) {
	dir := t.TempDir()
	s := open(t, dir, store.Options{Now: Clock()})
	for i, act := range day(t) {
		require.NoError(t, act(s), "act %d", i)
	}
	before := contentOf(t, s)
	require.NoError(t, s.Close())
	s = open(t, dir, store.Options{Now: Clock()})
	assert.Equal(t, before, contentOf(t, s))
	bad, err := s.VerifyFiles(t.Context())
	require.NoError(t, err)
	assert.Empty(t, bad)
	require.NoError(t, s.Close())
}

// failingSteps lets step n = 1, 2, 3 ... of the day fail until none does. The store is reopened
// without a goodbye after the failure, the failed act is done again, and the day goes on.
func failingSteps(t *testing.T, open Opener) {
	failure := errors.New("injected")
	for n := 1; ; n++ {
		dir := t.TempDir()
		left := n
		broke := false
		s := open(t, dir, store.Options{Now: Clock(), Step: func(string) error {
			left--
			if left == 0 {
				return failure
			}
			return nil
		}})
		for i, act := range day(t) {
			before := contentOf(t, s)
			err := act(s)
			if err == nil {
				continue
			}
			require.ErrorIs(t, err, failure, "step %d, act %d", n, i)
			broke = true
			require.Equal(t, before, contentOf(t, s), "step %d, act %d: half an act is visible", n, i)
			require.NoError(t, s.Close())
			s = open(t, dir, store.Options{Now: Clock()})
			require.Equal(t, before, contentOf(t, s), "step %d, act %d: the acknowledged part changed", n, i)
			require.NoError(t, act(s), "step %d, act %d: again", n, i)
		}
		end := contentOf(t, s)
		assert.Len(t, end.photos, 2)
		assert.Len(t, end.sheets, 1)
		assert.Len(t, end.decisions, 1)
		bad, err := s.VerifyFiles(t.Context())
		require.NoError(t, err)
		assert.Empty(t, bad)
		require.NoError(t, s.Close())
		if !broke {
			require.Greater(t, n, 20, "fewer steps than a day has: the faults were not injected")
			return
		}
	}
}
