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

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
	"gatefold/sheetmodel/racefolder"
)

// A race folder that holds two cards of other makes that look alike, last season's copied in by hand say: nobody can tell
// which one a photo shows, so it is kept, used for nothing, and both are named. gatefold admit refuses the second.
// What is expected is our own logic.
func TestCollect_PhotoFitsTwoAdmittedCards_IsKeptAndNeverGuessed(t *testing.T) {
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
	for i, name := range []string{"quillmoor", "quillmoor-last-season"} {
		side := front
		side.Print = nil
		if i == 1 { // what differs is where it is read, not how it looks
			side.Fields = append([]sheetmodel.Field(nil), side.Fields[:len(side.Fields)-1]...)
		}
		l := &sheetmodel.Layout{Format: 1, Name: name, Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{side}}
		_, err = folder.SaveForeign(l, map[sheetmodel.SideName]*image.Gray{sheetmodel.Front: blank})
		require.NoError(t, err)
	}
	photo, _ := photoOf(t, front, map[string]string{"row-01.bib": "14", "row-01.gate": "6", "row-01.code": "F"}, 31)
	file := filepath.Join(t.TempDir(), "which.jpg")
	require.NoError(t, os.WriteFile(file, photo, 0o600))
	code, out, errs := runApp(t, "collect", dir, "--json", file)
	assert.Equal(t, 3, code, errs)
	var report collectReport
	require.NoError(t, json.Unmarshal([]byte(out), &report))
	require.Len(t, report.Photos, 1)
	assert.Empty(t, report.Photos[0].Cards)
	require.NotNil(t, report.Photos[0].Refused)
	assert.Equal(t, "two-forms", report.Photos[0].Refused.Fault)
	assert.Contains(t, report.Photos[0].Refused.Detail, "quillmoor, front")
	assert.Contains(t, report.Photos[0].Refused.Detail, "quillmoor-last-season, front")

	s, err := (&app{now: clockOfTests}).openRace(t.Context(), dir)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	st, result, err := s.look(t.Context())
	require.NoError(t, err)
	assert.Empty(t, st.Rows)
	assert.Empty(t, st.Unnamed)
	assert.Empty(t, result.Calls)
}
