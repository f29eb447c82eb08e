package store_test

import (
	"bytes"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/review/store/storetest"
)

// Lines that were made public together are kept together: none, if one of them can't be. Our own logic.
func TestAnswer_Several_AreKeptAllOrNone(t *testing.T) {
	s, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	require.Error(t, s.Answer(t.Context(), store.Answer{Question: "a", Value: "1", By: "Ada"}, store.Answer{Question: "b", Value: "2"}))
	got, err := s.Answers(t.Context())
	require.NoError(t, err)
	assert.Empty(t, got)
	require.NoError(t, s.Answer(t.Context(), store.Answer{Question: "a", Value: "1", By: "Ada"}, store.Answer{Question: "b", Value: "2", By: "Ada"}))
	got, err = s.Answers(t.Context())
	require.NoError(t, err)
	require.Len(t, got, 2)
	assert.Equal(t, "a", got[0].Question)
	assert.Equal(t, got[0].At, got[1].At)
}

// What was in view when a question was answered goes wherever the answer goes: to a copy that is handed around, into a logbook and out of it,
// and past the removal of a person. Source: our own logic.
func TestAnswer_ViewGoesWithIt(t *testing.T) {
	s := openStore(t, t.TempDir(), storetest.Clock())
	said := store.Answer{Question: "row-count/1/Blue/4/3/row-1", Value: "all", By: "Ada", Note: "the judge", Paper: "0f3a8e21c97b-1", View: "1|c;0f3a8e21c97b-1 x;;"}
	require.NoError(t, s.Answer(t.Context(), said, store.Answer{Question: "b", Value: "2", By: "Ada"}))
	views := func(s *store.Store) []string {
		all, err := s.Answers(t.Context())
		require.NoError(t, err)
		require.Len(t, all, 2)
		assert.Equal(t, said.Question, all[0].Question)
		return []string{all[0].View, all[1].View}
	}
	want := []string{said.View, ""}
	assert.Equal(t, want, views(s))

	shared, err := s.Share(t.Context(), t.TempDir(), hideAll())
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, shared.Close()) })
	assert.Equal(t, want, views(shared))

	var text bytes.Buffer
	require.NoError(t, s.WriteLogbook(t.Context(), &text))
	again, err := store.FromLogbook(t.Context(), t.TempDir(), store.Options{Now: storetest.Clock()}, &text)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, again.Close()) })
	assert.Equal(t, want, views(again))

	dir := s.Dir()
	to := t.TempDir()
	_, err = store.Rescue(t.Context(), dir, to, store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	assert.Equal(t, want, views(openStore(t, to, storetest.Clock())))
}

// A race of an older program has answers of which nobody kept what was in view. They are there after the program was changed, and where the
// database is damaged before or after that, they are rescued like the others. Source: our own logic.
func TestAnswer_OfAnOlderProgram_IsKeptAndRescued(t *testing.T) {
	for _, opened := range []bool{false, true} {
		dir := t.TempDir()
		s, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
		require.NoError(t, err)
		require.NoError(t, s.Close())
		older(t, dir, ``+unseen+`; ALTER TABLE answers DROP COLUMN about; DELETE FROM schema_versions WHERE version > 5;
			INSERT INTO answers (id, question, answer, person, note, at_utc, at_offset_s) VALUES (1, 'a', '1', 'Ada', '', '2027-01-23T10:00:00.000000000Z', 3600);
			UPDATE sequence SET last = 1`)
		want := []string{""}
		if opened {
			s, err = store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
			require.NoError(t, err)
			require.NoError(t, s.Answer(t.Context(), store.Answer{Question: "b", Value: "2", By: "Bo", View: "1"}))
			want = append(want, "1")
			require.NoError(t, s.Close())
		}
		views := func(s *store.Store) (views []string) {
			all, err := s.Answers(t.Context())
			require.NoError(t, err)
			for _, a := range all {
				views = append(views, a.View)
			}
			return views
		}
		older(t, dir, `PRAGMA wal_checkpoint(TRUNCATE)`)
		for _, head := range []bool{true, false} { // with the page that tells which table lies where, and without it
			broken := filepath.Join(t.TempDir(), "broken")
			require.NoError(t, os.CopyFS(broken, os.DirFS(dir)))
			if !head {
				file, err := os.OpenFile(filepath.Join(broken, store.FileName), os.O_WRONLY, 0)
				require.NoError(t, err)
				_, err = file.WriteAt(make([]byte, 100), 0)
				require.NoError(t, errors.Join(err, file.Close()))
			}
			to := t.TempDir()
			_, err = store.Rescue(t.Context(), broken, to, store.Options{Now: storetest.Clock()})
			require.NoError(t, err)
			assert.Equal(t, want, views(openStore(t, to, storetest.Clock())), "opened %t, head %t", opened, head)
		}
		assert.Equal(t, want, views(openStore(t, dir, storetest.Clock())), "opened %t", opened)
	}
}

// older changes a database behind the program's back.
func older(t *testing.T, dir, change string) {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, store.FileName))
	require.NoError(t, err)
	_, err = db.ExecContext(t.Context(), change)
	require.NoError(t, errors.Join(err, db.Close()))
}
