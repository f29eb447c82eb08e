package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
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

// A kind whose end is nothing but its last byte says in its first ones how much there has to be.
func TestUnfinished_FilesThatListTheirParts(t *testing.T) {
	heic, err := os.ReadFile("../../scan/intake/testdata/phone-6.heic")
	require.NoError(t, err)
	films := "\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"
	// A directory at the front that lists one strip of 8 bytes behind it, and one at the end. Source: TIFF 6.0,
	// section 2.
	front := "II*\x00\x08\x00\x00\x00" + "\x02\x00" +
		"\x11\x01\x04\x00\x01\x00\x00\x00\x26\x00\x00\x00" + "\x17\x01\x03\x00\x01\x00\x00\x00\x08\x00\x00\x00" +
		"\x00\x00\x00\x00" + "8 pixels"
	end := "MM\x00*\x00\x00\x00\x10" + "8 pixels" + "\x00\x01" + "\x01\x11\x00\x04\x00\x00\x00\x01\x00\x00\x00\x08" + "\x00\x00\x00\x00"
	for name, whole := range map[string]string{"heic": string(heic), "tif": front, "other.tif": end} {
		assert.False(t, unfinished([]byte(whole)), name)
		for cut := 8; cut < len(whole); cut++ {
			assert.True(t, unfinished([]byte(whole[:cut])), "%s: %d of %d bytes", name, cut, len(whole))
		}
	}
	// What waiting can't mend isn't waited for, and nothing runs without end.
	for name, bad := range map[string]string{
		"box without end": films + "\x00\x00\x00\x00mdat and so on",
		"box of 3 bytes":  films + "\x00\x00\x00\x03mdat and so on",
		"ring":            "II*\x00\x08\x00\x00\x00\x00\x00\x08\x00\x00\x00",
	} {
		assert.False(t, unfinished([]byte(bad)), name)
	}
}

func FuzzUnfinished(f *testing.F) {
	f.Add([]byte("II*\x00\x08\x00\x00\x00\x01\x00\x11\x01\x03\x00\xFF\xFF\xFF\xFF\x00\x00\x00\x00\x00\x00\x00\x00"))
	f.Add([]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic\x00\x00\x00\x01mdat\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF"))
	f.Fuzz(func(_ *testing.T, data []byte) { unfinished(data) })
}

// watching runs collectWatching on a clock of the test's own while act does something to the folder.
func watching(t *testing.T, act func(t *testing.T, dir string), collect func(files []string) error) (complaints string, err error) {
	t.Helper()
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		var out, errs bytes.Buffer
		a := &app{out: &out, errs: &errs}
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		go func() { ended <- a.collectWatching(ctx, "race", []string{dir}, lookEvery, collect) }()
		act(t, dir)
		cancel()
		err = <-ended
		complaints = strings.ReplaceAll(errs.String(), dir+string(filepath.Separator), "")
	})
	return complaints, err
}

// A cable that stumbles for some seconds in the middle of a file costs no refusal, whatever the kind.
func TestCollectWatching_CopyPausesInTheMiddle_IsTakenOnceWhole(t *testing.T) {
	heic, err := os.ReadFile("../../scan/intake/testdata/phone-6.heic")
	require.NoError(t, err)
	tif := []byte("MM\x00*\x00\x00\x00\x10" + "8 pixels" + "\x00\x01" + "\x01\x11\x00\x04\x00\x00\x00\x01\x00\x00\x00\x08" + "\x00\x00\x00\x00")
	for name, whole := range map[string][]byte{"a.heic": heic, "a.tif": tif, "a.jpg": []byte(headOfJPEG + endOfJPEG)} {
		var taken [][]byte
		complaints, err := watching(t, func(t *testing.T, dir string) {
			file := filepath.Join(dir, name)
			for _, part := range []float64{0.3, 0.6, 0.99} {
				require.NoError(t, os.WriteFile(file, whole[:int(part*float64(len(whole)))], 0o600))
				time.Sleep(4*lookEvery + lookEvery/2)
			}
			require.NoError(t, os.WriteFile(file, whole, 0o600))
			time.Sleep(10 * time.Minute)
		}, func(files []string) error {
			for _, f := range files {
				data, err := os.ReadFile(f)
				if err != nil {
					return err
				}
				taken = append(taken, data)
			}
			return nil
		})
		require.NoError(t, err)
		assert.Empty(t, complaints)
		assert.Equal(t, [][]byte{whole}, taken, "%s: once, and all of it", name)
	}
}

// What no waiting mends is said once, and not every half minute; other photos go on.
func TestCollectWatching_FileThatCantBeTaken_IsSaidOnce(t *testing.T) {
	var batches [][]string
	complaints, err := watching(t, func(t *testing.T, dir string) {
		huge, err := os.Create(filepath.Join(dir, "huge.jpg"))
		require.NoError(t, err)
		require.NoError(t, huge.Truncate(mostInput+1))
		require.NoError(t, huge.Close())
		time.Sleep(5 * time.Minute)
		put(t, headOfJPEG+endOfJPEG, dir, "a.jpg")
		time.Sleep(5 * time.Minute)
	}, func(files []string) error {
		batches = append(batches, files)
		return nil
	})
	assert.Equal(t, "gatefold: photo huge.jpg: has 128.0 MB, more than 128; send it smaller\n", complaints)
	require.Len(t, batches, 1)
	assert.Equal(t, "a.jpg", filepath.Base(batches[0][0]))
	require.ErrorContains(t, err, "watching has ended; what was refused or failed is said above")
}

// A batch that fails again and again is tried again and again, and complained about when something is new.
func TestCollectWatching_SameFailure_IsSaidOnce(t *testing.T) {
	tries := 0
	complaints, _ := watching(t, func(t *testing.T, dir string) {
		put(t, headOfJPEG+endOfJPEG, dir, "a.jpg")
		time.Sleep(5 * time.Minute)
	}, func([]string) error {
		if tries++; tries < 5 {
			return errors.New("race.yaml:3: no such thing")
		}
		return errors.New("race.yaml:4: no such thing either")
	})
	assert.Greater(t, tries, 5)
	assert.Equal(t, "gatefold: race.yaml:3: no such thing\ngatefold: race.yaml:4: no such thing either\n", complaints)
}
