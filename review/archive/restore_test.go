package archive_test

import (
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/archive"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel/racefolder"
)

// raceWithFiles is the small race day with a race folder of its own beside it, lists in a folder below.
func raceWithFiles(t *testing.T) (*stacktest.Table, archive.Input) {
	t.Helper()
	b := day(t)
	dir := b.Store.Dir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("../../testdata/demo-race")))
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "lists"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "lists", "voraus läufer.csv"), []byte("bib\nV1\n"), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "lists", "de.po"), []byte("msgid \"\"\nmsgstr \"\"\n"), 0o600))
	text, err := os.ReadFile(filepath.Join(dir, "race.yaml"))
	require.NoError(t, err)
	require.Contains(t, string(text), "\nforerunners: ")
	lines := strings.Split(string(text), "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, "forerunners: ") {
			lines[i] = "forerunners: lists/voraus läufer.csv\nlanguage: lists/de.po"
		}
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "race.yaml"), []byte(strings.Join(lines, "\n")), 0o600))
	_, err = racefolder.Open(dir)
	require.NoError(t, err)
	// A newer reader has replaced what an older one read: both rows and both pages are to come back.
	again := storetest.Side(1, 1, "14")
	again.Page = []byte("\x89PNG\r\n\x1a\n of an older reader")
	first, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	newest := storetest.Side(1, 1, "14")
	newest.Page, err = os.ReadFile(filepath.Join(dir, first[0].Page))
	require.NoError(t, err)
	require.NoError(t, errors.Join(
		b.Store.AddSheets(t.Context(), first[0].Photo, "older", []store.NewSheet{again}),
		b.Store.AddSheets(t.Context(), first[0].Photo, "newer", []store.NewSheet{newest})))
	in := input(b)
	in.Names = true
	return b, in
}

func logbook(t *testing.T, s *store.Store) string {
	t.Helper()
	var b strings.Builder
	require.NoError(t, s.WriteLogbook(t.Context(), &b))
	return b.String()
}

func packed(t *testing.T, in archive.Input) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "archive")
	_, err := archive.Write(t.Context(), dir, in)
	require.NoError(t, err)
	return dir
}

var restoring = archive.RestoreOptions{Now: func() time.Time { return at.Add(1e6 * time.Second) }}

func TestRestore_GivesTheRaceBackByteByByte(t *testing.T) {
	b, in := raceWithFiles(t)
	bag := packed(t, in)
	folder := filepath.Join(t.TempDir(), "again")
	done, err := archive.Restore(t.Context(), bag, folder, restoring)
	require.NoError(t, err)
	assert.Equal(t, 3, done.Photos)
	assert.Equal(t, 2, done.Decisions)
	assert.Empty(t, done.Missing)

	// the files of the race, the originals and the pages, under their names and bit for bit
	want, got := filesOf(t, b.Store.Dir()), filesOf(t, folder)
	for name, text := range want {
		if !strings.HasPrefix(name, store.FileName) && !strings.HasPrefix(name, ".") {
			assert.Equal(t, text, got[name], name)
		}
	}
	s, err := store.Open(t.Context(), folder, store.Options{Now: restoring.Now})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	assert.Equal(t, logbook(t, b.Store), logbook(t, s), "every row that was ever kept, under its number")
	bad, err := s.VerifyFiles(t.Context())
	require.NoError(t, err)
	assert.Empty(t, bad)

	// packed once more at the same time, it is the same archive
	restored := *b
	restored.Store = s
	in2 := input(&restored)
	in2.Names = true
	assert.Equal(t, filesOf(t, bag), filesOf(t, packed(t, in2)))
}

func TestRestore_Tampered_IsRefusedNamingTheFile(t *testing.T) {
	_, in := raceWithFiles(t)
	sound := packed(t, in)
	for _, c := range []struct{ file, want string }{
		{"data/decisions.csv", "data/decisions.csv: altered"},
		{"data/logbook.jsonl", "data/logbook.jsonl: altered"},
		{"data/race/race.yaml", "data/race/race.yaml: altered"},
		{"bag-info.txt", "bag-info.txt: altered"},
		{"data/extra.txt", "data/extra.txt: extra"},
	} {
		bag := filepath.Join(t.TempDir(), "bag")
		require.NoError(t, os.CopyFS(bag, os.DirFS(sound)))
		text, _ := os.ReadFile(filepath.Join(bag, c.file))
		require.NoError(t, os.WriteFile(filepath.Join(bag, c.file), append(text, ' '), 0o600))
		parent := t.TempDir()
		_, err := archive.Restore(t.Context(), bag, filepath.Join(parent, "again"), restoring)
		var tampered *archive.TamperedError
		require.ErrorAs(t, err, &tampered, c.file)
		require.ErrorContains(t, err, c.want)
		assert.Empty(t, filesOf(t, parent), "nothing was made")
	}
}

// Sums that were changed with their files verify; what they lead to must still not leave the folder.
func TestRestore_HostileNames_MakeNothing(t *testing.T) {
	_, in := raceWithFiles(t)
	sound := packed(t, in)
	for _, c := range []struct{ file, old, fresh, want string }{
		{"data/race/folder.json", `"race.yaml"`, `"../race.yaml"`, "no name for a file of a race"},
		{"data/race/folder.json", `"race.yaml"`, `"gatefold.db"`, "no name for a file of a race"},
		{"data/race/folder.json", `"race.yaml"`, `"originals/x.yaml"`, "no name for a file of a race"},
		{"data/race/folder.json", `"files":`, strings.Repeat(" ", 1<<20) + `"files":`, "larger than 1 MB; gatefold packs none such"},
		{"data/logbook.jsonl", `"file":"originals/`, `"file":"../`, "is not named by its sum"},
		{"data/logbook.jsonl", `{"in":"photos"`, `{"in":"sqlite_master"`, "can't stand here"},
		{"data/logbook.jsonl", `"sent_name":`, `"no_name":`, "no column sent_name"},
		{"data/logbook.jsonl", `{"logbook":1`, `{"logbook":9`, "newer"},
		{"data/logbook.jsonl", `"last":`, `"last":0,"was":`, "is not among"},
	} {
		bag := filepath.Join(t.TempDir(), "bag")
		require.NoError(t, os.CopyFS(bag, os.DirFS(sound)))
		resum(t, bag, c.file, func(text string) string {
			require.Contains(t, text, c.old)
			return strings.ReplaceAll(text, c.old, c.fresh)
		})
		parent := t.TempDir()
		_, err := archive.Restore(t.Context(), bag, filepath.Join(parent, "again"), restoring)
		require.ErrorContains(t, err, c.want)
		assert.Empty(t, filesOf(t, parent), "nothing was made")
	}
}

// resum changes a file of a bag and all sums with it, as somebody might on purpose.
func resum(t *testing.T, bag, file string, edit func(string) string) {
	t.Helper()
	change := func(name string, edit func(string) string) (old, sum string) {
		text, err := os.ReadFile(filepath.Join(bag, name))
		require.NoError(t, err)
		fresh := edit(string(text))
		require.NoError(t, os.WriteFile(filepath.Join(bag, name), []byte(fresh), 0o600))
		return sumOfText(t, string(text)), sumOfText(t, fresh)
	}
	was, is := change(file, edit)
	swap := func(text string) string { return strings.ReplaceAll(text, was, is) }
	all := filesOf(t, bag)
	octets, files := 0, 0
	for name, text := range all {
		if strings.HasPrefix(name, "data/") {
			octets, files = octets+len(text), files+1
		}
	}
	manifestWas, manifestIs := change("manifest-sha256.txt", swap)
	infoWas, infoIs := change("bag-info.txt", func(text string) string {
		lines := strings.Split(text, "\n")
		for i, l := range lines {
			if strings.HasPrefix(l, "Payload-Oxum: ") {
				lines[i] = "Payload-Oxum: " + decimal(octets) + "." + decimal(files)
			}
		}
		return strings.Join(lines, "\n")
	})
	change("tagmanifest-sha256.txt", func(text string) string {
		return strings.ReplaceAll(strings.ReplaceAll(text, manifestWas, manifestIs), infoWas, infoIs)
	})
	report, err := archive.Verify(bag)
	require.NoError(t, err)
	require.Empty(t, report.Problems, "the sums fit: only the content is wrong")
}

func TestRestore_NotWhole_OrThere_OrInside(t *testing.T) {
	b := day(t)
	in := input(b)
	in.Names = false
	bag := packed(t, in)
	_, err := archive.Restore(t.Context(), bag, filepath.Join(t.TempDir(), "again"), restoring)
	require.ErrorIs(t, err, archive.ErrNotWhole)
	_, err = archive.Restore(t.Context(), bag, t.TempDir(), restoring)
	require.ErrorContains(t, err, "is there already")
	_, err = archive.Restore(t.Context(), bag, filepath.Join(bag, "again"), restoring)
	require.ErrorContains(t, err, "inside the archive")
	_, err = archive.Restore(t.Context(), t.TempDir(), filepath.Join(t.TempDir(), "again"), restoring)
	require.ErrorContains(t, err, "bagit.txt")
}

func TestRestore_Fault_LeavesNothing(t *testing.T) {
	_, in := raceWithFiles(t)
	bag := packed(t, in)
	for n := 0; ; n++ {
		parent := t.TempDir()
		opt, i, fired := restoring, 0, false
		opt.Step = func(string) error {
			i++
			if fired = fired || i > n; fired {
				return errors.New("disk is full")
			}
			return nil
		}
		_, err := archive.Restore(t.Context(), bag, filepath.Join(parent, "again"), opt)
		if !fired {
			require.NoError(t, err)
			assert.Greater(t, n, 5)
			return
		}
		require.ErrorContains(t, err, "disk is full")
		assert.Empty(t, filesOf(t, parent))
	}
}

func decimal(n int) string { return strconv.Itoa(n) }
