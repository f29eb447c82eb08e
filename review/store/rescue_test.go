package store_test

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

const dbPage = 4096 // SQLite's default size of a page

// busyRace is a race folder in which every table that a race day fills has rows on several pages.
func busyRace(t *testing.T) (dir string, s *store.Store) {
	t.Helper()
	dir = t.TempDir()
	s = openStore(t, dir, storetest.Clock())
	for n := range 30 {
		id, err := keepsOne(t.Context(), s, n, 100)
		require.NoError(t, err)
		side := storetest.Side(n+1, 2, fmt.Sprint(n))
		side.Page = fmt.Appendf(nil, "\x89PNG\r\n\x1a\n page %d", n)
		require.NoError(t, s.AddSheets(t.Context(), id, "reader", []store.NewSheet{side}))
		key := fmt.Sprintf("run1/Blue/card-%d/front/row-03.bib", n)
		require.NoError(t, s.Serve(t.Context(), store.Served{Session: "s", Person: "Ben", Readings: []string{key}, What: "entry"}))
		if n%3 == 0 { // replaced
			_, err = s.Settle(t.Context(), store.Entry{Reading: key, Text: fmt.Sprint(n + 100), Basis: sheetmodel.BasisJudgeAsked, By: "Ben", Session: "t"})
			require.NoError(t, err)
		}
		if n%2 == 1 { // typed from the photo
			sheets, err := s.Sheets(t.Context())
			require.NoError(t, err)
			e := store.Entry{Reading: fmt.Sprintf("run1/Blue/card-%d/front/row-02.bib", n+1), Text: fmt.Sprint(n), Basis: sheetmodel.BasisOnPaper, By: "Cem", Session: "c", Sheet: sheets[n].ID}
			require.NoError(t, s.Serve(t.Context(), store.Served{Session: "c", Person: "Cem", Readings: []string{e.Reading}, Sheet: e.Sheet, What: "entry"}))
			d, err := s.Settle(t.Context(), e)
			require.NoError(t, err)
			require.True(t, d[0].Blind)
		}
		if n%4 == 1 { // taken back
			d, err := s.Decisions(t.Context())
			require.NoError(t, err)
			require.NoError(t, s.Undo(t.Context(), d[len(d)-1].ID, "Ada", "s"))
		}
	}
	return dir, s
}

type line struct {
	In  string         `json:"in"`
	Row map[string]any `json:"row"`
}

// linesOf is all that a store holds, by number.
func linesOf(t *testing.T, s *store.Store) map[int64]line {
	t.Helper()
	var text bytes.Buffer
	require.NoError(t, s.WriteLogbook(t.Context(), &text))
	all := map[int64]line{}
	for l := range bytes.Lines(text.Bytes()) {
		var one line
		require.NoError(t, json.Unmarshal(l, &one))
		if one.In != "" {
			all[int64(one.Row["id"].(float64))] = one
		}
	}
	return all
}

// standing is what counts of each reading.
func standing(t *testing.T, s *store.Store) map[string]string {
	t.Helper()
	all, err := s.Decisions(t.Context())
	require.NoError(t, err)
	texts := map[string]string{}
	for _, d := range all { // in the order of their numbers
		if d.Undone == nil {
			texts[d.Reading] = d.Text
		}
	}
	return texts
}

// rescued brings a broken race over and demands what holds for any damage: what isn't named as lost is there,
// nothing stands that didn't, the broken race is untouched, and work goes on.
func rescued(t *testing.T, dir string, was map[int64]line, stood map[string]string, what string) store.Rescued {
	t.Helper()
	broken, err := os.ReadFile(filepath.Join(dir, store.FileName))
	require.NoError(t, err)
	to := t.TempDir()
	done, err := store.Rescue(t.Context(), dir, to, store.Options{Now: storetest.Clock()})
	require.NoError(t, err, what)
	after, err := os.ReadFile(filepath.Join(dir, store.FileName))
	require.NoError(t, err)
	require.True(t, bytes.Equal(broken, after), what)

	s, err := store.Open(t.Context(), to, store.Options{Now: storetest.Clock()})
	require.NoError(t, err, what)
	defer func() { assert.NoError(t, s.Close()) }()
	named := map[int64]bool{}
	for _, l := range done.Lost {
		named[l.ID] = true
		assert.Equal(t, was[l.ID].In, l.Table, "%s: row %d", what, l.ID)
	}
	for _, id := range done.Unknown {
		named[id] = true
	}
	left := 0
	is := linesOf(t, s)
	for id, l := range was {
		got, there := is[id]
		switch {
		case there && got.In == "photos" && named[id]: // taken in anew by its bytes
			assert.Equal(t, l.Row["sha256"], got.Row["sha256"], what)
		case there && done.NoEnd && (got.In != l.In || got.In == "photos"): // no page told how far the numbers went: they are given out anew
		case there:
			assert.Equal(t, l, got, what)
		case !named[id]:
			left++
		}
	}
	if !done.NoEnd {
		assert.Equal(t, done.LeftOut, left, "%s: a row is gone without a word", what)
	}
	decisions, err := s.Decisions(t.Context())
	require.NoError(t, err)
	for _, d := range decisions {
		if _, err := s.Sheet(t.Context(), d.Sheet); d.Sheet > 0 && err != nil { // nobody can say any more whether another photo shows the same ink
			assert.False(t, d.Blind, "%s: %d", what, d.ID)
		}
	}
	if len(done.Unknown) == 0 && !done.NoEnd {
		for key, text := range standing(t, s) {
			assert.Equal(t, stood[key], text, "%s: %s stands now", what, key)
		}
	}
	bad, err := s.VerifyFiles(t.Context())
	require.NoError(t, err, what)
	assert.Empty(t, bad, what)
	_, err = keepsOne(t.Context(), s, 999, 100)
	require.NoError(t, err, what)
	return done
}

// Whichever page of the database breaks, and however: all that isn't on it comes back, and what was on it is named.
// The bound on what one page may cost is the number of cells that its own head tells. Source of the bound: the file
// format of SQLite, section 1.6.
func TestRescue_AnyPageBroken_BringsBackTheRestAndNamesTheLoss(t *testing.T) {
	dir, s := busyRace(t)
	was, stood := linesOf(t, s), standing(t, s)
	require.NoError(t, s.Close())
	path := filepath.Join(dir, store.FileName)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	count := len(whole) / dbPage
	require.Greater(t, count, 30)
	rng := rand.New(rand.NewPCG(8, 8))
	leaves := 0
	for n := 1; n <= count; n++ {
		page := whole[(n-1)*dbPage : n*dbPage]
		most := 1 // of an overflow page: the row it belongs to
		switch page[0] {
		case 13:
			most = int(binary.BigEndian.Uint16(page[3:]))
			leaves++
		case 2, 5, 10:
			most = 0
		}
		garbage := make([]byte, dbPage)
		for i := range garbage {
			garbage[i] = byte(rng.Uint32())
		}
		for name, now := range map[string][]byte{"zeros": make([]byte, dbPage), "garbage": garbage} {
			if testing.Short() && n%7 != 0 {
				continue
			}
			what := fmt.Sprintf("page %d of kind %d, %s", n, page[0], name)
			require.NoError(t, os.WriteFile(path, slices.Concat(whole[:(n-1)*dbPage], now, whole[n*dbPage:]), 0o600))
			done := rescued(t, dir, was, stood, what)
			assert.LessOrEqual(t, len(done.Lost)+len(done.Unknown), most, what)
			if n == 1 || most > 1 {
				assert.NotEmpty(t, done.Broken, what)
			}
			if n == 1 { // its list of tables is gone: rows are told by their shape
				assert.Empty(t, done.Lost, what)
			}
		}
	}
	assert.Greater(t, leaves, 12)
}

// The head is zeroed, the file is cut off, or it is no database any more.
func TestRescue_HeadZeroedOrFileCut_BringsBackTheRest(t *testing.T) {
	dir, s := busyRace(t)
	was, stood := linesOf(t, s), standing(t, s)
	require.NoError(t, s.Close())
	path := filepath.Join(dir, store.FileName)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)

	require.NoError(t, os.WriteFile(path, slices.Concat(make([]byte, 100), whole[100:]), 0o600))
	done := rescued(t, dir, was, stood, "head")
	assert.Empty(t, done.Lost)
	assert.Empty(t, done.Unknown)
	assert.Equal(t, []store.BrokenPage{{Page: 0, Why: "the head of the file is not SQLite's"}}, done.Broken)

	for _, share := range []int{2, 4} {
		cut := len(whole) / share / dbPage * dbPage
		require.NoError(t, os.WriteFile(path, whole[:cut+100], 0o600))
		done = rescued(t, dir, was, stood, "cut")
		assert.NotEmpty(t, done.Broken)
		assert.False(t, done.Blind)
	}

	require.NoError(t, os.WriteFile(path, []byte(strings.Repeat("a shopping list ", 999)), 0o600))
	done = rescued(t, dir, was, stood, "no database")
	assert.True(t, done.NoEnd)
	assert.Len(t, done.Anew, 30, "each original is taken in again by its bytes")
}

// A program that was killed leaves its newest rows in the log beside the database.
func TestRescue_RowsStillInTheLog_AreBroughtBack(t *testing.T) {
	dir, s := busyRace(t)
	was, stood := linesOf(t, s), standing(t, s)
	killed := t.TempDir()
	require.NoError(t, os.CopyFS(killed, os.DirFS(dir)))
	require.NoError(t, s.Close())
	log, err := os.ReadFile(filepath.Join(killed, store.FileName+"-wal"))
	require.NoError(t, err)
	require.NotEmpty(t, log)
	done := rescued(t, killed, was, stood, "whole")
	assert.True(t, done.Readable)
	assert.Empty(t, done.Lost)
	assert.Empty(t, done.Unknown)

	file, err := os.ReadFile(filepath.Join(killed, store.FileName))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(killed, store.FileName), make([]byte, len(file)), 0o600))
	rescued(t, killed, was, stood, "database zeroed, log whole")
}

// A decision that had replaced another is lost: the older one must not stand again.
func TestRescue_LostDecision_WhatItReplacedIsTakenBack(t *testing.T) {
	dir, s := busyRace(t)
	all, err := s.Decisions(t.Context())
	require.NoError(t, errors.Join(err, s.Close()))
	path := filepath.Join(dir, store.FileName)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	lost := 0
	for n := 2; n <= len(whole)/dbPage; n++ {
		page := whole[(n-1)*dbPage : n*dbPage]
		if page[0] != 13 || !bytes.Contains(page, []byte("judge-asked")) {
			continue
		}
		require.NoError(t, os.WriteFile(path, slices.Concat(whole[:(n-1)*dbPage], make([]byte, dbPage), whole[n*dbPage:]), 0o600))
		to := t.TempDir()
		done, err := store.Rescue(t.Context(), dir, to, store.Options{Now: storetest.Clock()})
		require.NoError(t, err)
		assert.False(t, done.Blind, "who typed a lost entry isn't unseen")
		s, err := store.Open(t.Context(), to, store.Options{Now: storetest.Clock()})
		require.NoError(t, err)
		now := standing(t, s)
		require.NoError(t, s.Close())
		for _, l := range done.Lost {
			if l.Table != "decisions" {
				continue
			}
			lost++
			assert.Contains(t, l.What, "/front/row-0", "its index tells the reading")
			assert.NotContains(t, now, l.What, "of %d decisions", len(all))
		}
	}
	assert.Greater(t, lost, 12)
}

func TestRescue_NoDatabaseOrANewerOne_IsSaid(t *testing.T) {
	_, err := store.Rescue(t.Context(), t.TempDir(), t.TempDir(), store.Options{Now: storetest.Clock()})
	require.ErrorIs(t, err, store.ErrNotFound)
}

// A device has no end, and a file may say that it is larger than any memory: neither is read.
func TestRescue_DatabaseIsADeviceOrTooLarge_IsNotRead(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, store.FileName)
	require.NoError(t, os.Symlink("/dev/zero", name))
	_, err := store.Rescue(t.Context(), dir, t.TempDir(), store.Options{Now: storetest.Clock()})
	require.ErrorContains(t, err, "is no plain file; put the race's own in its place")
	_, err = store.OpenCopy(t.Context(), dir, t.TempDir(), store.Options{Now: storetest.Clock()})
	require.ErrorContains(t, err, "is no plain file; put the race's own in its place")

	require.NoError(t, os.Remove(name))
	require.NoError(t, os.WriteFile(name, nil, 0o600))
	require.NoError(t, os.Truncate(name, 1<<30+1<<20)) // a hole: it takes no room
	_, err = store.Rescue(t.Context(), dir, t.TempDir(), store.Options{Now: storetest.Clock()})
	require.ErrorContains(t, err, "has 1025 MB, more than any race's database (1024); take another copy")
}
