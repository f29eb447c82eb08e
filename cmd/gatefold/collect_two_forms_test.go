//go:build cgo && linux

package main

import (
	"encoding/json"
	"image"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
	"gatefold/sheetmodel/racefolder"
)

// A race folder that holds two cards of other makes that look alike, last season's copied in by hand say: nobody can tell
// which one a photo shows, so it is kept, read as both and used for nothing until a person says which form it is. gatefold
// read, which can't ask, refuses it. gatefold admit refuses the second form. What is expected is our own logic.
func TestCollect_PhotoFitsTwoAdmittedCards_IsAskedAndNeverGuessed(t *testing.T) {
	if testing.Short() {
		t.Skip("photographs and reads a card for some seconds")
	}
	drawn := twoSided()
	front := drawn.Sides[0]
	bare := front
	bare.Fields = nil
	blank := print.RasterBlank(&bare, 8)
	dir := filepath.Join(t.TempDir(), "race")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
	folder, err := racefolder.Open(dir)
	require.NoError(t, err)
	hashes := map[string]string{}
	for i, name := range []string{"quillmoor", "quillmoor-last-season"} {
		side := front
		side.Print = nil
		if i == 1 { // what differs is where it is read, not how it looks
			side.Fields = append([]sheetmodel.Field(nil), side.Fields[:len(side.Fields)-1]...)
		}
		l := &sheetmodel.Layout{Format: 1, Name: name, Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{side}}
		hashes[name] = l.Hash()
		_, err = folder.SaveForeign(l, map[sheetmodel.SideName]*image.Gray{sheetmodel.Front: blank})
		require.NoError(t, err)
	}
	photo, _ := photoOf(t, front, map[string]string{"row-01.bib": "14", "row-01.gate": "6", "row-01.code": "F"}, 31)
	file := filepath.Join(t.TempDir(), "which.jpg")
	require.NoError(t, os.WriteFile(file, photo, 0o600))
	code, out, errs := runApp(t, "collect", dir, "--json", file)
	assert.Equal(t, 0, code, errs)
	var report collectReport
	require.NoError(t, json.Unmarshal([]byte(out), &report))
	require.Len(t, report.Photos, 1)
	require.Nil(t, report.Photos[0].Refused)
	require.Len(t, report.Photos[0].Cards, 1, "one paper")
	assert.Contains(t, report.Photos[0].Cards[0], "quillmoor, front")
	assert.Contains(t, report.Photos[0].Cards[0], "quillmoor-last-season, front")
	assert.Contains(t, report.Photos[0].Cards[0], "the desk asks")

	code, out, _ = runApp(t, "read", "--race", dir, "--json", file)
	assert.Equal(t, 3, code)
	assert.Contains(t, out, `"two-forms"`)
	assert.NotContains(t, out, `"fields"`)

	s, err := (&app{now: clockOfTests}).openRace(t.Context(), dir)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	st, result, err := s.look(t.Context())
	require.NoError(t, err)
	assert.Empty(t, st.Rows)
	require.Len(t, st.Unnamed, 2)
	assert.Equal(t, 1, st.UnnamedSides())
	assert.Empty(t, result.Calls)
	assert.NotEmpty(t, st.Facts().Open)

	// Which form it is, the answer which card it is says, for it is given of one of the two.
	var last store.Sheet
	for _, u := range st.Unnamed {
		if u.Layout == hashes["quillmoor-last-season"] {
			last = u
		}
	}
	require.NotZero(t, last.ID)
	card := store.CardName(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1})
	require.NoError(t, s.store.Answer(t.Context(), store.Answer{Question: store.WhichCard(last.Photo, last.Part), Value: card, By: "Ada"}))
	st, _, err = s.look(t.Context())
	require.NoError(t, err)
	assert.Empty(t, st.Unnamed)
	require.Len(t, st.Rows, 1)
	assert.Equal(t, last.Layout, st.Rows[0].Sheet.Layout)

	// Read once more by the same reader, it is still what the person said.
	code, _, errs = runApp(t, "collect", dir, file)
	assert.Equal(t, 0, code, errs)
	st, _, err = s.look(t.Context())
	require.NoError(t, err)
	require.Len(t, st.Rows, 1)
	assert.Equal(t, last.Layout, st.Rows[0].Sheet.Layout)
}
