//go:build cgo

package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// TestReread_ShowsFirst_AppliesOnlyIfAsked_KeepsEveryDecision gives a race the readings of an older reader, one
// bib of which is another, and lets this one read the photo again.
func TestReread_ShowsFirst_AppliesOnlyIfAsked_KeepsEveryDecision(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "race")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
	code, _, complaint := runApp(t, "collect", dir, filepath.Join(demoStackDir, "photos", "card-01-front.jpg"))
	require.Equal(t, int(exitDone), code, complaint)
	code, said, _ := runApp(t, "reread", dir)
	require.Equal(t, int(exitDone), code)
	assert.Contains(t, said, "every photo was read by this version; nothing to do")

	a := &app{now: clockOfTests}
	s, err := a.openRace(t.Context(), dir)
	require.NoError(t, err)
	sheets, err := s.store.Sheets(t.Context())
	require.NoError(t, err)
	sheet := sheets[0]
	page, err := os.ReadFile(filepath.Join(dir, sheet.Page))
	require.NoError(t, err)
	var now sheetmodel.Row
	for i, r := range sheet.Read.Reading.Rows {
		if r.Bib.State == sheetmodel.Clear {
			now = r
			sheet.Read.Reading.Rows[i].Bib.Text = "999"
			break
		}
	}
	require.NotEmpty(t, now.Bib.Text, "no clear bib on the card")
	require.NoError(t, s.store.AddSheets(t.Context(), sheet.Photo, "an older reader", []store.NewSheet{{
		Part: 1, Identity: sheetmodel.Identity{Race: sheet.Race, Side: sheet.Side}, Card: sheet.Card, Layout: sheet.Layout, Corners: sheet.Corners,
		Grid: sheet.Grid, Quality: sheet.Quality, Page: page, PagePxPerMM: sheet.PagePxPerMM, Read: sheet.Read,
	}}))
	key := sheet.Key(now.Bib.Field)
	require.NoError(t, s.store.Serve(t.Context(), store.Served{Session: "s", Person: "Ada", Readings: []string{key}, What: "test"}))
	_, err = s.store.Settle(t.Context(), store.Entry{Reading: key, Text: now.Bib.Text, Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "s"})
	require.NoError(t, err)
	head, err := s.store.Head(t.Context())
	require.NoError(t, err)
	decisions, err := s.store.Decisions(t.Context())
	require.NoError(t, err)
	bibNow := func() string {
		all, err := s.store.Sheets(t.Context())
		require.NoError(t, err)
		for _, r := range all[0].Read.Reading.Rows {
			if r.Number == now.Number {
				return r.Bib.Text
			}
		}
		return ""
	}

	// looking: the row is named, what stands in it is not; nothing is changed
	code, said, complaint = runApp(t, "reread", dir, "--json")
	require.Equal(t, int(exitDone), code, complaint)
	require.NoError(t, validateJSON("reread.schema.json", said))
	var report rereadReport
	require.NoError(t, json.Unmarshal([]byte(said), &report))
	assert.False(t, report.Applied)
	assert.Equal(t, 1, report.Photos)
	require.Len(t, report.Changes, 1)
	assert.Equal(t, now.Number, report.Changes[0].Row)
	assert.NotContains(t, said, "999")
	same, err := s.store.Head(t.Context())
	require.NoError(t, err)
	assert.Equal(t, head, same, "nothing was added to the race")
	assert.Equal(t, "999", bibNow())

	// asked: the new reading counts, every decision is there as it was
	code, said, complaint = runApp(t, "reread", dir, "--apply")
	require.Equal(t, int(exitDone), code, complaint)
	assert.Contains(t, said, "1 photo read again; 1 row changed\n")
	assert.Contains(t, said, "every decision is kept")
	assert.Equal(t, now.Bib.Text, bibNow())
	after, err := s.store.Decisions(t.Context())
	require.NoError(t, err)
	assert.Equal(t, decisions, after)
	bad, err := s.store.VerifyFiles(t.Context())
	require.NoError(t, err)
	assert.Empty(t, bad)
	require.NoError(t, s.Close())
}

// A card that an older reader found beside another, and this one doesn't find, keeps its rows and what is struck out there.
//
// Expected values: our own logic.
func TestReread_FindsFewerCardsInAPhoto_LeavesItAsItWasRead(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "race")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
	code, _, complaint := runApp(t, "collect", dir, filepath.Join(demoStackDir, "photos", "card-01-front.jpg"))
	require.Equal(t, int(exitDone), code, complaint)
	a := &app{now: clockOfTests}
	s, err := a.openRace(t.Context(), dir)
	require.NoError(t, err)
	sheets, err := s.store.Sheets(t.Context())
	require.NoError(t, err)
	require.Len(t, sheets, 1)
	sheet := sheets[0]
	page, err := os.ReadFile(filepath.Join(dir, sheet.Page))
	require.NoError(t, err)
	first := store.NewSheet{
		Part: 1, Identity: sheetmodel.Identity{Race: sheet.Race, Side: sheet.Side}, Card: sheet.Card, Layout: sheet.Layout, Corners: sheet.Corners,
		Grid: sheet.Grid, Quality: sheet.Quality, Page: page, PagePxPerMM: sheet.PagePxPerMM, Read: sheet.Read,
	}
	second := first
	second.Part, second.Card.Card = 2, sheet.Card.Card+1
	require.NoError(t, s.store.AddSheets(t.Context(), sheet.Photo, "an older reader", []store.NewSheet{first, second}))
	require.NoError(t, s.Close())

	code, said, complaint := runApp(t, "reread", dir, "--apply")
	require.Equal(t, int(exitDone), code, complaint)
	assert.Contains(t, said, "it stays as it was read")
	s, err = a.openRace(t.Context(), dir)
	require.NoError(t, err)
	sheets, err = s.store.Sheets(t.Context())
	require.NoError(t, err)
	assert.Len(t, sheets, 2)
	require.NoError(t, s.Close())
}
