//go:build cgo && unix

package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestCollectWatch_PhotosThatArrive lets a real process watch a folder while photos come: one in two halves,
// one twice under two names. The interrupt key is its proper end.
func TestCollectWatch_PhotosThatArrive(t *testing.T) {
	if testing.Short() {
		t.Skip("waits for looks into a folder")
	}
	top := t.TempDir()
	race, phone := filepath.Join(top, "race"), filepath.Join(top, "phone")
	require.NoError(t, os.CopyFS(race, os.DirFS(demoRaceDir)))
	require.NoError(t, os.Mkdir(phone, 0o700))
	front, err := os.ReadFile(filepath.Join(demoStackDir, "photos", "card-01-front.jpg"))
	require.NoError(t, err)
	back, err := os.ReadFile(filepath.Join(demoStackDir, "photos", "card-01-back.jpg"))
	require.NoError(t, err)

	c := exec.Command("gatefold", "collect", race, "--watch", phone)
	var errs bytes.Buffer
	out, err := os.Create(filepath.Join(top, "out.txt"))
	require.NoError(t, err)
	defer out.Close() //nolint:errcheck // the other process writes it
	c.Stdout, c.Stderr = out, &errs
	require.NoError(t, c.Start())
	ended := make(chan error, 1)
	go func() { ended <- c.Wait() }()
	originals := func() int {
		files, err := filepath.Glob(filepath.Join(race, "originals", "*.jpg"))
		require.NoError(t, err)
		return len(files)
	}
	// What it says comes after all that it does for a batch.
	said := func(what string) func() bool {
		return func() bool {
			text, err := os.ReadFile(out.Name())
			require.NoError(t, err)
			return bytes.Contains(text, []byte(what))
		}
	}
	put(t, string(front), phone, "1.jpg")
	put(t, string(front), phone, "DCIM", "again.jpg")
	put(t, string(back[:len(back)/3]), phone, "2.jpg")
	require.Eventually(t, said("1 photo read, 0 refused"), time.Minute, 50*time.Millisecond, "the whole photo is taken")
	assert.Equal(t, 1, originals(), "the half one is waited for, the double is kept once")
	put(t, string(back), phone, "2.jpg")
	require.Eventually(t, said("1 photo read, 0 refused, 0 were there before\nnext: gatefold desk "+race+"\n1 photo read, 0 refused"), time.Minute, 50*time.Millisecond, "the rest has come")
	assert.Equal(t, 2, originals())

	require.NoError(t, c.Process.Signal(os.Interrupt))
	require.NoError(t, <-ended, errs.String())
	assert.Empty(t, errs.String())
	assert.True(t, said("watching "+phone)())
	for _, file := range []string{"1.jpg", "2.jpg"} {
		want, err := os.ReadFile(filepath.Join(phone, file))
		require.NoError(t, err)
		kept, err := filepath.Glob(filepath.Join(race, "originals", "*.jpg"))
		require.NoError(t, err)
		found := false
		for _, k := range kept {
			got, err := os.ReadFile(k)
			require.NoError(t, err)
			found = found || bytes.Equal(want, got)
		}
		assert.True(t, found, "%s is kept bit for bit", file)
	}
}
