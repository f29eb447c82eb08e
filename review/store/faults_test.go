package store_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

func openStore(t *testing.T, dir string, now func() time.Time) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), dir, store.Options{Now: now})
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() }) // some tests close it themselves
	return s
}

// photoOf is some photo; each n is another.
func photoOf(n, bytesLong int) []byte {
	return append(fmt.Appendf([]byte("\xff\xd8\xff"), "photo %d", n), make([]byte, bytesLong)...)
}

// keepsOne adds a photo and a decision and returns the photo's name.
func keepsOne(ctx context.Context, s *store.Store, n, bytesLong int) (string, error) {
	p, _, err := s.AddPhoto(ctx, "a.jpg", bytes.NewReader(photoOf(n, bytesLong)), -1, time.Time{})
	if err != nil {
		return "", err
	}
	_, err = s.Settle(ctx, store.Entry{
		Reading: fmt.Sprintf("run1/Blue/card-%d/front/row-03.bib", n), Text: fmt.Sprint(n), Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "s",
	})
	return p.ID, err
}

// allThere demands the photos and as many decisions, and whole files.
func allThere(t *testing.T, s *store.Store, photos []string) {
	t.Helper()
	for _, id := range photos {
		_, err := s.Photo(t.Context(), id)
		require.NoError(t, err)
	}
	decisions, err := s.Decisions(t.Context())
	require.NoError(t, err)
	assert.GreaterOrEqual(t, len(decisions), len(photos))
	bad, err := s.VerifyFiles(t.Context())
	require.NoError(t, err)
	assert.Empty(t, bad)
}

// The whole race folder is taken away while it is open, and brought back: what was acknowledged before, and
// meanwhile, is in it.
func TestStore_FolderTakenAway_LosesNothingAcknowledged(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "race")
	require.NoError(t, os.Mkdir(dir, 0o755))
	s := openStore(t, dir, storetest.Clock())
	var kept []string
	for n := range 3 {
		id, err := keepsOne(t.Context(), s, n, 100)
		require.NoError(t, err)
		kept = append(kept, id)
	}
	require.NoError(t, os.Rename(dir, dir+"-elsewhere"))
	_, err := keepsOne(t.Context(), s, 10, 100)
	require.ErrorContains(t, err, "check free space and that the folder may be written")
	_, settled := s.Settle(t.Context(), store.Entry{
		Reading: "run1/Blue/card-11/front/row-03.bib", Text: "11", Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "s",
	})
	_, err = store.Open(t.Context(), dir+"/gone", store.Options{Now: storetest.Clock()})
	require.NoError(t, err, "a folder that isn't there is made; a command looks for race.yaml first")
	require.NoError(t, os.RemoveAll(dir))
	require.NoError(t, os.Rename(dir+"-elsewhere", dir))

	for _, s := range []*store.Store{s, openStore(t, dir, storetest.Clock())} {
		allThere(t, s, kept)
		decisions, err := s.Decisions(t.Context())
		require.NoError(t, err)
		if settled == nil {
			assert.Equal(t, "11", decisions[len(decisions)-1].Text, "it was acknowledged while the folder was away")
		}
	}
	id, err := keepsOne(t.Context(), s, 10, 100)
	require.NoError(t, err)
	allThere(t, s, append(kept, id))
}

// Order and completeness come from row numbers; a clock that jumps changes only what the times say.
func TestStore_ClockJumps_KeepsOrderAndAll(t *testing.T) {
	dir := t.TempDir()
	start := storetest.Clock()()
	now := start
	s := openStore(t, dir, func() time.Time { return now })
	var kept []string
	for n, jump := range []time.Duration{0, -30 * 365 * 24 * time.Hour, 100 * 365 * 24 * time.Hour, -time.Second, 0} {
		now = start.Add(jump)
		id, err := keepsOne(t.Context(), s, n, 100)
		require.NoError(t, err)
		kept = append(kept, id)
	}
	require.NoError(t, s.Close())
	s = openStore(t, dir, func() time.Time { return now })
	allThere(t, s, kept)
	photos, err := s.Photos(t.Context())
	require.NoError(t, err)
	for i, p := range photos {
		assert.Equal(t, kept[i], p.ID, "in the order of arrival")
	}
}

// A second program whose clock has jumped takes a running upload for a leftover. The upload is not
// acknowledged then, and goes through when it is sent again.
func TestStore_ClockJumpsDuringAnUpload_IsNoSilentLoss(t *testing.T) {
	dir := t.TempDir()
	s := openStore(t, dir, time.Now)
	body, in := io.Pipe()
	done := make(chan error, 1)
	go func() {
		_, _, err := s.AddPhoto(context.Background(), "a.jpg", body, -1, time.Time{})
		done <- err
	}()
	_, err := in.Write(photoOf(1, 100))
	require.NoError(t, err)
	openStore(t, dir, func() time.Time { return time.Now().Add(3 * time.Hour) })
	require.NoError(t, in.Close())
	require.Error(t, <-done, "its file was swept away")
	photos, err := s.Photos(t.Context())
	require.NoError(t, err)
	assert.Empty(t, photos)
	id, err := keepsOne(t.Context(), s, 1, 100)
	require.NoError(t, err)
	allThere(t, s, []string{id})
}

// The last page of the database is broken: opening says so, changes nothing, and names a way on.
func TestOpen_LastPageBroken_SaysSoAndChangesNothing(t *testing.T) {
	dir := t.TempDir()
	s := openStore(t, dir, storetest.Clock())
	var kept []string
	for n := range 40 {
		id, err := keepsOne(t.Context(), s, n, 100)
		require.NoError(t, err)
		kept = append(kept, id)
	}
	require.NoError(t, s.Close())
	path := filepath.Join(dir, store.FileName)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	const page = 4096 // SQLite's default size of a page
	for name, last := range map[string][]byte{
		"other bytes": bytes.Repeat([]byte{0xA5}, page),
		"zeros":       make([]byte, page),
		"cut off":     nil,
	} {
		broken := append(bytes.Clone(whole[:len(whole)-page]), last...)
		require.NoError(t, os.WriteFile(path, broken, 0o644))
		_, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
		var damage *store.DamagedError
		require.ErrorAs(t, err, &damage, name)
		assert.Equal(t, path, damage.Path)
		assert.Contains(t, err.Error(), "the photos in originals are not touched")
		after, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.True(t, bytes.Equal(broken, after), name)
		// Every original can be taken in again by its own bytes.
		for _, id := range kept {
			assert.FileExists(t, filepath.Join(dir, store.OriginalsName, id+".jpg"))
		}
	}
	require.NoError(t, os.WriteFile(path, whole, 0o644))
	allThere(t, openStore(t, dir, storetest.Clock()), kept)
}

// A database that is no longer one, in the ways files go bad.
func TestOpen_NoDatabaseAnyMore_IsSaid(t *testing.T) {
	for name, content := range map[string]string{"text": strings.Repeat("a shopping list ", 999), "head cut": "SQLite for"} {
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, store.FileName), []byte(content), 0o644))
		_, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
		var damage *store.DamagedError
		require.ErrorAs(t, err, &damage, name)
		require.Error(t, errors.Unwrap(damage))
	}
}
