package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// put writes a file, and its folder, as a copy would.
func put(t *testing.T, data string, parts ...string) {
	t.Helper()
	file := filepath.Join(parts...)
	require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o700))
	require.NoError(t, os.WriteFile(file, []byte(data), 0o600))
}

const (
	headOfJPEG = "\xFF\xD8\xFF\xE0 a picture, as far as a look from outside goes; "
	endOfJPEG  = "and its end \xFF\xD9"
)

func TestWatcher_FileIsTakenOnceItHasRested(t *testing.T) {
	dir := t.TempDir()
	w := newWatcher([]string{dir})
	look := func() []string {
		arrived, notes := w.look()
		assert.Empty(t, notes)
		return arrived
	}
	assert.Empty(t, look())
	a, b := filepath.Join(dir, "a.jpg"), filepath.Join(dir, "DCIM", "100", "b.HEIC")
	put(t, headOfJPEG+endOfJPEG, a)
	put(t, "a photo of another kind", b)
	put(t, headOfJPEG+endOfJPEG, dir, ".sync", "c.jpg")
	put(t, headOfJPEG+endOfJPEG, dir, ".d.jpg")
	put(t, "notes", dir, "notes.txt")
	assert.Empty(t, look(), "seen, but it may still grow")
	assert.Equal(t, []string{b, a}, look())
	assert.Empty(t, look(), "only once")

	put(t, headOfJPEG+"another one"+endOfJPEG, a)
	assert.Empty(t, look())
	assert.Equal(t, []string{a}, look(), "it is another one now")
}

func TestWatcher_HalfAFile_IsWaitedForLonger(t *testing.T) {
	for name, half := range map[string]string{
		"cut.jpg":   headOfJPEG + "and the thumbnail's end \xFF\xD9" + string(bytes.Repeat([]byte("half of it "), 20)),
		"room.jpg":  headOfJPEG + string(make([]byte, 8192)),
		"cut.png":   "\x89PNG\r\n\x1a\n and half of it",
		"cut.pdf":   "%PDF-1.7 and half of it",
		"empty.jpg": "",
	} {
		dir := t.TempDir()
		file := filepath.Join(dir, name)
		put(t, half, file)
		w := newWatcher([]string{dir})
		for range looksUnfinished - 1 {
			arrived, _ := w.look()
			require.Empty(t, arrived, name)
		}
		arrived, _ := w.look()
		assert.Equal(t, []string{file}, arrived, "%s: in the end it is handed on, and reading says what is wrong", name)
	}
}

func TestWatcher_FolderThatGoesAway_IsSaidOnceAndWaitedFor(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "card")
	put(t, headOfJPEG+endOfJPEG, dir, "a.jpg")
	w := newWatcher([]string{dir})
	w.look()
	require.NoError(t, os.Rename(dir, dir+"-out"))
	_, notes := w.look()
	assert.Equal(t, []string{"folder " + dir + ": no such file or directory; waiting until it is back"}, notes)
	_, notes = w.look()
	assert.Empty(t, notes)
	require.NoError(t, os.Rename(dir+"-out", dir))
	_, notes = w.look()
	assert.Equal(t, []string{"folder " + dir + ": is back"}, notes)
}

// A batch that failed, not one that was refused, is tried again.
func TestCollectWatching_FailedBatch_ArrivesAgain(t *testing.T) {
	dir := t.TempDir()
	put(t, headOfJPEG+endOfJPEG, dir, "a.jpg")
	var out, errs bytes.Buffer
	a := &app{out: &out, errs: &errs}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	var batches [][]string
	err := a.collectWatching(ctx, "race", []string{dir}, time.Millisecond, func(files []string) error {
		batches = append(batches, files)
		switch len(batches) {
		case 1:
			return errors.New("race.yaml:3: no such thing")
		case 2:
			put(t, headOfJPEG+endOfJPEG, dir, "b.jpg")
			return refused(errors.New("photo a.jpg: no card found; retake it"))
		}
		cancel()
		return nil
	})
	require.NoError(t, err)
	one, two := []string{filepath.Join(dir, "a.jpg")}, []string{filepath.Join(dir, "b.jpg")}
	assert.Equal(t, [][]string{one, one, two}, batches)
	assert.Equal(t, "gatefold: race.yaml:3: no such thing\ngatefold: photo a.jpg: no card found; retake it\n", errs.String())
	assert.Contains(t, out.String(), "watching "+dir)
}

// Both the folder and what is in it may be links.
func TestWatcher_Links_CountAsWhatTheyLeadTo(t *testing.T) {
	phone, away := t.TempDir(), t.TempDir()
	put(t, headOfJPEG, away, "a.jpg")
	require.NoError(t, os.Symlink(filepath.Join(away, "a.jpg"), filepath.Join(phone, "a.jpg")))
	require.NoError(t, os.Symlink(filepath.Join(away, "none.jpg"), filepath.Join(phone, "b.jpg")))
	folder := filepath.Join(t.TempDir(), "phone")
	require.NoError(t, os.Symlink(phone, folder))
	w := newWatcher([]string{folder})
	for range 4 {
		arrived, notes := w.look()
		assert.Empty(t, notes)
		assert.Empty(t, arrived, "it has no end yet")
	}
	put(t, headOfJPEG+endOfJPEG, away, "a.jpg")
	w.look()
	arrived, _ := w.look()
	assert.Equal(t, []string{filepath.Join(folder, "a.jpg")}, arrived)
}

// A page that gatefold straightened looks like a photo of its card: collected, it would make another one.
func TestWatcher_RaceInAWatchedFolder_ItsOwnPicturesAreNoPhotos(t *testing.T) {
	dir := t.TempDir()
	race := filepath.Join(dir, "race")
	w := newWatcher([]string{dir}, ownFolders(race)...)
	w.look()
	put(t, headOfJPEG+endOfJPEG, race, "pages", "a.jpg") // they are made while it watches
	put(t, headOfJPEG+endOfJPEG, race, "originals", "b.jpg")
	put(t, headOfJPEG+endOfJPEG, race, "photos", "c.jpg")
	w.look()
	arrived, _ := w.look()
	assert.Equal(t, []string{filepath.Join(race, "photos", "c.jpg")}, arrived)
}
