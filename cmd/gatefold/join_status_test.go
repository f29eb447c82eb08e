package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// What one copy has otherwise than two others is a dispute at each join; status names it once. Our own logic.
func TestStatus_DisputeOfThreeCopies_IsNamedOnce(t *testing.T) {
	dirs := []string{filepath.Join(t.TempDir(), "race"), filepath.Join(t.TempDir(), "race"), filepath.Join(t.TempDir(), "race")}
	code, _, complaint := runApp(t, "start", dirs[0], "--name", "Spring Cup", "--date", "2027-03-13", "--zone", "Europe/Vienna")
	require.Equal(t, int(exitDone), code, complaint)
	const bib = "run1/Blue/card-4/front/row-01.bib"
	say := func(dir string, ahead time.Duration, does func(*store.Store) error) {
		s, err := store.Open(t.Context(), dir, store.Options{Now: func() time.Time { return time.Date(2027, 3, 13, 10, 0, 0, 0, time.UTC).Add(ahead) }})
		require.NoError(t, err)
		require.NoError(t, does(s))
		require.NoError(t, s.Close())
	}
	say(dirs[0], 0, func(s *store.Store) error {
		return s.TypeFromPaper(t.Context(), store.PaperCard{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 4}, Rows: 1, By: "Ada"})
	})
	for _, dir := range dirs[1:] {
		require.NoError(t, os.CopyFS(dir, os.DirFS(dirs[0])))
	}
	for i, text := range []string{"1", "2", "3"} {
		say(dirs[i], time.Duration(1+i)*time.Minute, func(s *store.Store) error {
			by := []string{"Ada", "Bo", "Cy"}[i]
			if err := s.Serve(t.Context(), store.Served{Session: by, Person: by, Readings: []string{bib}, What: "test", Reveals: true}); err != nil {
				return err // a look that was not unseen settles no dispute
			}
			_, err := s.Settle(t.Context(), store.Entry{Reading: bib, Text: text, Basis: sheetmodel.BasisOnPaper, By: by, Session: by})
			return err
		})
	}
	for _, other := range dirs[1:] {
		code, said, complaint := runApp(t, "join", dirs[0], other)
		require.Equal(t, int(exitDone), code, complaint)
		require.Contains(t, said, "settled differently, waits: run1/Blue/card-4, front row-01 bib\n")
	}
	_, status, _ := runApp(t, "status", dirs[0])
	assert.Equal(t, 1, strings.Count(status, "run1/Blue/card-4, front row-01 bib"), status)
}
