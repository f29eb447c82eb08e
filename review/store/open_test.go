package store_test

import (
	"bufio"
	"bytes"
	"context"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

func TestOpen_NewerSchema_IsRefusedAndUnchanged(t *testing.T) {
	dir := t.TempDir()
	s, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	db, err := sql.Open("sqlite", filepath.Join(dir, store.FileName))
	require.NoError(t, err)
	_, err = db.ExecContext(t.Context(), `INSERT INTO schema_versions (version, at_utc) VALUES (99, '')`)
	require.NoError(t, errors.Join(err, db.Close()))
	_, err = store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
	var newer *store.NewerError
	require.ErrorAs(t, err, &newer)
	assert.Equal(t, 99, newer.Found)
	assert.Contains(t, err.Error(), "use the newer program")
}

// A race begun with an older program goes on with this one.
func TestOpen_OlderSchema_IsBroughtUpToDate(t *testing.T) {
	dir := t.TempDir()
	s, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	p, _, err := s.AddPhoto(t.Context(), "a.jpg", strings.NewReader("\xff\xd8\xffa"), -1, time.Time{})
	require.NoError(t, errors.Join(err, s.Close()))
	db, err := sql.Open("sqlite", filepath.Join(dir, store.FileName))
	require.NoError(t, err)
	_, err = db.ExecContext(t.Context(), unseen+`; DROP TABLE further_refusals; DROP TABLE disputes; DROP TABLE sighted; DROP TABLE forgets; DROP TABLE heard; DROP INDEX answers_question; ALTER TABLE answers DROP COLUMN about; DELETE FROM schema_versions WHERE version > 1`)
	require.NoError(t, errors.Join(err, db.Close()))
	s, err = store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	require.NoError(t, s.AddSheets(t.Context(), p.ID, "reader", []store.NewSheet{storetest.Side(4, 1, "46")}, store.Refusal{Fault: "cut"}))
	p, err = s.Photo(t.Context(), p.ID)
	require.NoError(t, errors.Join(err, s.Close()))
	assert.Len(t, p.Further, 1)
}

func TestOpen_NoFolderOrNotWritable_SaysWhatToDo(t *testing.T) {
	_, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "a\x00b"), store.Options{Now: storetest.Clock()})
	require.ErrorContains(t, err, "may be written")
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	_, err = store.Open(t.Context(), file, store.Options{Now: storetest.Clock()})
	require.ErrorContains(t, err, "check that the race folder exists and may be written")
	_, err = store.Open(t.Context(), t.TempDir(), store.Options{})
	require.ErrorContains(t, err, "no clock")
}

func TestOpen_FolderReadOnly_IsAnErrorNotAPanic(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Skip("root may write anywhere")
	}
	dir := t.TempDir()
	require.NoError(t, os.Chmod(dir, 0o500))
	_, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
	require.ErrorContains(t, err, "may be written")
}

// The originals folder can't be written: nothing is acknowledged, and what was there stays.
func TestAddPhoto_FolderGone_IsAnErrorAndKeepsTheRest(t *testing.T) {
	dir := t.TempDir()
	s, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	require.NoError(t, os.Rename(filepath.Join(dir, store.OriginalsName), filepath.Join(dir, "elsewhere")))
	_, _, err = s.AddPhoto(t.Context(), "a.jpg", strings.NewReader("\xff\xd8\xffa"), -1, time.Time{})
	require.ErrorContains(t, err, "check free space and that the folder may be written")
	photos, err := s.Photos(t.Context())
	require.NoError(t, err)
	assert.Empty(t, photos)
}

func TestOpen_SweepsOldHalfUploadsOnly(t *testing.T) {
	dir := t.TempDir()
	folder := filepath.Join(dir, store.OriginalsName)
	require.NoError(t, os.MkdirAll(folder, 0o755))
	start := storetest.Clock()()
	for name, age := range map[string]time.Duration{".upload-old": 2 * time.Hour, ".upload-new": time.Minute} {
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, []byte("half"), 0o600))
		require.NoError(t, os.Chtimes(path, start.Add(-age), start.Add(-age)))
	}
	s, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	assert.NoFileExists(t, filepath.Join(folder, ".upload-old"))
	assert.FileExists(t, filepath.Join(folder, ".upload-new"))
}

// Two open stores on one folder are two programs: the page and a command that reads photos.
func TestStore_TwoProgramsAtOnce_LoseNothing(t *testing.T) {
	dir := t.TempDir()
	var stores [2]*store.Store
	for i := range stores {
		var err error
		stores[i], err = store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
		require.NoError(t, err)
		t.Cleanup(func() { assert.NoError(t, stores[i].Close()) })
	}
	const each = 15
	var wg sync.WaitGroup
	var errs [4]error
	for w := range errs {
		wg.Go(func() {
			s := stores[w%2]
			for i := range each {
				photo := fmt.Sprintf("\xff\xd8\xff photo %d of both, %d", i, w/2) // two writers send the same photos
				if _, _, err := s.AddPhoto(t.Context(), "a.jpg", strings.NewReader(photo), -1, time.Time{}); err != nil {
					errs[w] = err
					return
				}
			}
		})
	}
	wg.Wait()
	require.NoError(t, errors.Join(errs[:]...))
	photos, err := stores[1].Photos(t.Context())
	require.NoError(t, err)
	assert.Len(t, photos, 2*each)
	bad, err := stores[0].VerifyFiles(t.Context())
	require.NoError(t, err)
	assert.Empty(t, bad)
}

// Rows are added, never changed: outside the sequence's counter and Forget there is no UPDATE, DELETE or REPLACE
// in the code, and no function or clause that only SQLite knows.
func TestSource_IsAppendOnlyAndPortable(t *testing.T) {
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	query := regexp.MustCompile("(?s)`[^`]*`")
	banned := regexp.MustCompile(`(?i)\b(DELETE|REPLACE|INSERT OR|AUTOINCREMENT|IFNULL|GLOB|ROWID|STRFTIME|DATETIME|JULIANDAY|JSON_\w+|GROUP_CONCAT|PRAGMA|DROP|TRUNCATE)\b|\?`)
	n := 0
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		for _, q := range query.FindAllString(string(text), -1) {
			if !strings.Contains(q, "SELECT") && !strings.Contains(q, "INSERT") && !strings.Contains(q, "UPDATE") && !strings.Contains(q, "CREATE") {
				continue
			}
			n++
			assert.NotRegexp(t, banned, q, file)
			q = strings.ReplaceAll(q, " FOR UPDATE", "")              // a lock, no change
			if strings.Contains(q, "UPDATE") && file != "forget.go" { // the one that is asked to take data out of rows
				assert.Equal(t, "`UPDATE sequence SET last = $1`", q)
			}
		}
	}
	assert.Greater(t, n, 30)
}

var kills = flag.Int("kills", 16, "how many times a program at work is killed")

// Two programs work on one race and are killed at random moments while they add photos and settle entries; each
// says what was acknowledged. Nothing acknowledged may be lost, and the database must be whole.
func TestStore_KilledAtAnyMoment_KeepsWhatWasAcknowledged(t *testing.T) {
	if os.Getenv("GATEFOLD_STORE_VICTIM") != "" {
		victim(os.Getenv("GATEFOLD_STORE_VICTIM"))
		return
	}
	dir := t.TempDir()
	acknowledged := 0
	for done := 0; done < *kills; done += 2 {
		var said [2][]string
		var wg sync.WaitGroup
		for i := range said {
			wg.Go(func() { said[i] = untilKilled(t, dir, time.Duration(3+(done+i)*7%120)*time.Millisecond) })
		}
		wg.Wait()
		s, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
		require.NoError(t, err)
		bad, err := s.VerifyFiles(t.Context()) // with SQLite's own integrity check
		require.NoError(t, err)
		assert.Empty(t, bad)
		decisions, err := s.Decisions(t.Context())
		require.NoError(t, err)
		texts := map[string]bool{}
		for _, d := range decisions {
			texts[d.Text] = true
		}
		for _, line := range slices.Concat(said[:]...) {
			acknowledged++
			kind, what, _ := strings.Cut(line, " ")
			if kind == "entry" {
				assert.True(t, texts[what], "after kill %d: lost %s", done, line)
				continue
			}
			_, err = s.Photo(t.Context(), what)
			require.NoError(t, err, "after kill %d: lost %s", done, line)
		}
		require.NoError(t, s.Close())
	}
	assert.Greater(t, acknowledged, *kills, "more than the first word of each")
	t.Logf("%d kills, %d things acknowledged, none lost", *kills, acknowledged)
}

// untilKilled runs a victim, kills it some time after its first word, and returns its words.
func untilKilled(t *testing.T, dir string, life time.Duration) (said []string) {
	c := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^TestStore_KilledAtAnyMoment_KeepsWhatWasAcknowledged$")
	c.Env = append(os.Environ(), "GATEFOLD_STORE_VICTIM="+dir)
	var complaint bytes.Buffer
	c.Stderr = &complaint
	out, err := c.StdoutPipe()
	if !assert.NoError(t, err) || !assert.NoError(t, c.Start()) {
		return nil
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if kind, _, ok := strings.Cut(lines.Text(), " "); !ok || kind != "photo" && kind != "entry" {
			continue
		}
		if said = append(said, lines.Text()); len(said) == 1 {
			time.AfterFunc(life, func() { _ = c.Process.Kill() })
		}
	}
	assert.Error(t, c.Wait(), "it was killed") //nolint:testifylint // in a goroutine nothing may be required
	assert.NotEmpty(t, said, complaint.String())
	return said
}

// victim works until it is killed.
func victim(dir string) {
	ctx := context.Background()
	s, err := store.Open(ctx, dir, store.Options{Now: time.Now})
	if err != nil {
		panic(err)
	}
	for n := os.Getpid() * 100000; ; n++ {
		p, _, err := s.AddPhoto(ctx, "a.jpg", io.MultiReader(bytes.NewReader([]byte("\xff\xd8\xff")), strings.NewReader(strings.Repeat(fmt.Sprint(n), 5000))), -1, time.Time{})
		if err != nil {
			panic(err)
		}
		fmt.Println("photo", p.ID)
		_, err = s.Settle(ctx, store.Entry{Reading: "run1/Blue/card-4/front/row-03.bib", Text: fmt.Sprint(n), Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "s"})
		if err != nil {
			panic(err)
		}
		fmt.Println("entry", n)
	}
}
