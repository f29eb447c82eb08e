//go:build cgo

package main

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

const bibOfCard3 = "run1/Blue/card-3/front/row-01.bib"

// deskProcess opens a real desk on a race and returns its process and address.
func deskProcess(t *testing.T, dir string) (*exec.Cmd, *said) {
	t.Helper()
	out, errs := &said{}, &said{}
	c := exec.Command("gatefold", "desk", dir, "--open-none")
	c.Stdout, c.Stderr = out, errs
	require.NoError(t, c.Start())
	t.Cleanup(func() {
		if c.ProcessState == nil {
			_ = c.Process.Kill()
			_ = c.Wait()
		}
	})
	require.Eventually(t, func() bool { return deskAddress.MatchString(out.String()) }, time.Minute, 20*time.Millisecond, errs.String())
	return c, out
}

func settleIn(t *testing.T, s *store.Store, by, text string) {
	t.Helper()
	require.NoError(t, s.Serve(t.Context(), store.Served{Session: by, Person: by, Readings: []string{bibOfCard3}, What: "test"}))
	_, err := s.Settle(t.Context(), store.Entry{Reading: bibOfCard3, Text: text, Basis: sheetmodel.BasisOnPaper, By: by, Session: by})
	require.NoError(t, err)
}

// TestTakeover_SecondLaptopGoesOnFromACopy kills a laptop in the middle of its day: the process dies, its file
// that holds the race is left behind, and its newest entries stand in the database's log only. A copy of the
// folder goes on with all of it, and the two copies come together later.
func TestTakeover_SecondLaptopGoesOnFromACopy(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "race")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
	first, _ := deskProcess(t, dir)
	a := &app{now: clockOfTests}
	here, err := a.openRace(t.Context(), dir)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, here.Close()) })
	require.NoError(t, here.store.TypeFromPaper(t.Context(), store.PaperCard{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 3}, Rows: 1, By: "Ada"}))
	settleIn(t, here.store, "Ada", "14")
	require.NoError(t, first.Process.Kill())
	require.Error(t, first.Wait())
	wal, err := os.Stat(filepath.Join(dir, store.FileName+"-wal"))
	require.NoError(t, err)
	require.Positive(t, wal.Size(), "the entry is in the log, which the copy must take along")

	// The copy, on a computer of another name.
	second := filepath.Join(t.TempDir(), "race")
	require.NoError(t, os.CopyFS(second, os.DirFS(dir)))
	var holder deskHolder
	text, err := os.ReadFile(filepath.Join(second, deskLeaseName))
	require.NoError(t, err, "a killed desk leaves its file behind")
	require.NoError(t, json.Unmarshal(text, &holder))
	holder.Computer = "hut-laptop"
	text, err = json.Marshal(holder)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(second, deskLeaseName), text, 0o600))

	desk, out := deskProcess(t, second)
	assert.Contains(t, out.String(), "note: this race was last open on hut-laptop, ")
	assert.Contains(t, out.String(), "it goes on here. If that computer works on it again, bring the two copies together later: gatefold join\n")
	there, err := a.openRace(t.Context(), second)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, there.Close()) })
	decisions, err := there.store.Decisions(t.Context())
	require.NoError(t, err)
	require.Len(t, decisions, 1, "what was acknowledged before the end is there")
	assert.Equal(t, "14", decisions[0].Text)

	// Both went on; while a desk is open, the copies aren't joined.
	settleIn(t, here.store, "Bo", "14")
	settleIn(t, there.store, "Cy", "74")
	code, _, complaint := runApp(t, "join", dir, second)
	assert.Equal(t, int(exitFailed), code)
	assert.Contains(t, complaint, "another desk is open at http://")
	require.NoError(t, desk.Process.Signal(os.Interrupt))
	require.NoError(t, desk.Wait())

	code, said, complaint := runApp(t, "join", dir, second)
	require.Equal(t, int(exitDone), code, complaint)
	assert.Contains(t, said, "0 photos, 1 decision, 0 records\n")
	assert.Contains(t, said, "settled differently, waits: run1/Blue/card-3, front row-01 bib\n")
	words := strings.NewReplacer(dir, "", second, "").Replace(said) // a test's folder may have any number
	assert.NotContains(t, words, "74", "whoever reads it may still have to type it unseen")
	_, status, _ := runApp(t, "status", dir)
	assert.Contains(t, status, "note: settled differently in two copies of this race, waits: run1/Blue/card-3, front row-01 bib\n")
	code, said, _ = runApp(t, "join", dir, second, "--json")
	require.Equal(t, int(exitDone), code)
	require.NoError(t, validateJSON("join.schema.json", said))
	var report joinReport
	require.NoError(t, json.NewDecoder(bytes.NewReader([]byte(said))).Decode(&report))
	assert.False(t, report.Changed(), strings.TrimSpace(said))
}
