//go:build cgo

package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestCollect_Interrupted_KeepsFinishedWorkAndGoesOn interrupts a real process while it reads, and then
// lets the same command line finish the work.
func TestCollect_Interrupted_KeepsFinishedWorkAndGoesOn(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "race")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
	photos, err := filepath.Glob(filepath.Join(demoStackDir, "photos", "card-0[1-5]-*.jpg"))
	require.NoError(t, err)
	require.Len(t, photos, 10)
	args := append([]string{"collect", dir, "--json"}, photos...)

	c := exec.Command("gatefold", args...)
	var out, errs bytes.Buffer
	c.Stdout, c.Stderr = &out, &errs
	require.NoError(t, c.Start())
	ended := make(chan error, 1)
	go func() { ended <- c.Wait() }()
	pages := func() int {
		entries, err := filepath.Glob(filepath.Join(dir, "pages", "*.png"))
		require.NoError(t, err)
		return len(entries)
	}
	// A page is written before its row is committed, and photos are kept one after the other: a second
	// page proves that the first photo is kept whole.
	require.Eventually(t, func() bool { return pages() > 1 }, time.Minute, 10*time.Millisecond, "no page was kept")
	require.NoError(t, c.Process.Signal(os.Interrupt))

	var exit *exec.ExitError
	require.ErrorAs(t, <-ended, &exit)
	require.Equal(t, int(exitInterrupted), exit.ExitCode(), errs.String())
	assert.Equal(t, "gatefold: interrupted; finished work is kept\n", errs.String())
	originals, err := filepath.Glob(filepath.Join(dir, "originals", "*.jpg"))
	require.NoError(t, err)
	assert.Len(t, originals, len(photos), "originals come first: no photo is lost")
	var report collectReport
	require.NoError(t, json.Unmarshal(out.Bytes(), &report), "what is finished is said")
	assert.Less(t, report.Kept, len(photos), "the interrupt came too late to prove anything")

	code, text, complaint := runApp(t, args...)
	require.Equal(t, int(exitDone), code, complaint)
	var rest collectReport
	require.NoError(t, json.Unmarshal([]byte(text), &rest))
	assert.Positive(t, rest.Known, "what was finished is not read again")
	assert.Equal(t, len(photos), rest.Known+rest.Kept)
	s, err := (&app{now: clockOfTests}).openRace(t.Context(), dir)
	require.NoError(t, err)
	defer func() { assert.NoError(t, s.Close()) }()
	ties, err := s.store.Ties(t.Context())
	require.NoError(t, err)
	assert.Len(t, ties, 5, "each card's sides are tied together, also those read before the interrupt")
}

// TestWithoutCgo_OnlyImagesAreMissing builds the program without cgo and demands that whatever needs no
// image works, and that the rest says what to install.
func TestWithoutCgo_OnlyImagesAreMissing(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the whole program")
	}
	dir := t.TempDir()
	program, race := filepath.Join(dir, "gatefold"), filepath.Join(dir, "race")
	build := exec.Command("go", "build", "-o", program, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	said, err := build.CombinedOutput()
	require.NoError(t, err, "%s", said)
	require.NoError(t, os.CopyFS(race, os.DirFS(demoRaceDir)))
	photo, err := filepath.Abs(filepath.Join(demoStackDir, "photos", "card-01-front.jpg"))
	require.NoError(t, err)

	cases := []struct {
		args []string
		code exitCode
		says string // on standard error
	}{
		{[]string{"race", "race"}, exitDone, ""},
		{[]string{"cards", "race", "--out", "cards"}, exitDone, ""},
		{[]string{"layout"}, exitDone, ""},
		{[]string{"read", "--race", "race", photo}, exitFailed, "libopencv-dev"},
		{[]string{"collect", "race", photo}, exitFailed, "libtesseract-dev"},
		{[]string{"work", "race"}, exitFailed, "libtesseract-dev"},
		{[]string{"doctor"}, exitRefused, "doctor: something is missing"},
		{[]string{"status", "race"}, exitDone, ""},
		{[]string{"draft", "race", "--out", "draft"}, exitDone, ""},
		{[]string{"pack", "race", "archive"}, exitDone, ""},
		{[]string{"verify", "archive"}, exitDone, ""},
	}
	for _, c := range cases {
		run := exec.Command(program, c.args...)
		run.Dir = dir
		var out, errs bytes.Buffer
		run.Stdout, run.Stderr = &out, &errs
		code := 0
		var exit *exec.ExitError
		if err := run.Run(); errors.As(err, &exit) {
			code = exit.ExitCode()
		} else {
			require.NoError(t, err)
		}
		assert.Equal(t, int(c.code), code, "%v: %s", c.args, errs.String())
		if c.says == "" {
			assert.Empty(t, errs.String(), "%v", c.args)
		} else {
			assert.Contains(t, errs.String(), c.says, "%v", c.args)
		}
		if c.code == exitFailed {
			assert.Empty(t, out.String(), "%v", c.args)
		}
	}
	originals, err := filepath.Glob(filepath.Join(race, "originals", "*"))
	require.NoError(t, err)
	assert.Empty(t, originals, "a photo that can't be read was taken in")

	keep := exec.Command(program, "collect", "race", "--later", photo)
	keep.Dir = dir
	said, err = keep.CombinedOutput()
	require.NoError(t, err, "%s", said)
	assert.Contains(t, string(said), "1 photo kept, to be read later")
}
