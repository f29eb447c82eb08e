package store

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func clock() time.Time { return time.Date(2027, 1, 23, 9, 0, 0, 0, time.UTC) }

// A table or a column that names a person, a file or another row must be known to the logbook, to Join and to
// Forget; this finds one that was added without.
func TestTables_AreAllKnown(t *testing.T) {
	s, err := Open(t.Context(), t.TempDir(), Options{Now: clock})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	type column struct{ table, name string }
	all, err := collect(t.Context(), s.db, func(scan func(...any) error) (c column, err error) {
		return c, scan(&c.table, &c.name)
	}, `SELECT m.name, c.name FROM sqlite_master m, pragma_table_info(m.name) c WHERE m.type = 'table' ORDER BY 1, 2`)
	require.NoError(t, err)
	known := map[string]bool{"sequence": true, "schema_versions": true}
	for _, table := range tables {
		known[table.name] = true
	}
	byTable := map[string][]string{}
	for _, c := range all {
		assert.True(t, known[c.table], "table %s is not in tables (logbook.go)", c.table)
		byTable[c.table] = append(byTable[c.table], c.name)
	}
	assert.Len(t, byTable, len(known))
	for table, columns := range tellsBy {
		for _, c := range columns {
			assert.Contains(t, byTable[table], c, table)
		}
	}
	for table, columns := range refers {
		for c := range columns {
			assert.Contains(t, byTable[table], c, table)
		}
	}
}

func TestFromLogbook_OlderSchema_IsBroughtUpToDate(t *testing.T) {
	book := `{"logbook":1,"schema":2,"last":7}
{"in":"answers","row":{"answer":{"base64":"/w=="},"at_offset_s":3600,"at_utc":"2027-01-23T09:00:00.000000000Z","id":3,"note":"","person":"Ada","question":"q"}}
`
	dir := t.TempDir()
	s, err := FromLogbook(t.Context(), dir, Options{Now: clock}, strings.NewReader(book))
	require.NoError(t, err)
	answers, err1 := s.Answers(t.Context())
	head, err2 := s.Head(t.Context())
	notes, err3 := s.Forgets(t.Context())
	var again strings.Builder
	require.NoError(t, errors.Join(err1, err2, err3, s.WriteLogbook(t.Context(), &again), s.Close()))
	require.Len(t, answers, 1)
	assert.Equal(t, "\xff", answers[0].Value, "a text that is no UTF-8 comes back as it was")
	assert.Equal(t, int64(7), head)
	assert.Empty(t, notes)
	newer := strings.Replace(book, `"schema":2`, fmt.Sprintf(`"schema":%d`, len(migrations)), 1)
	newer = strings.Replace(newer, `{"answer"`, `{"about":"","answer"`, 1)
	assert.Equal(t, strings.Replace(newer, `"question":"q"`, `"question":"q","seen":""`, 1), again.String())

	_, err = FromLogbook(t.Context(), dir, Options{Now: clock}, strings.NewReader(book))
	require.ErrorContains(t, err, "is there already")
}

func TestFromLogbook_NoWholeLogbook_LeavesNothing(t *testing.T) {
	row := `{"in":"answers","row":{"id":3,"question":"q","answer":"a","person":"Ada","note":"","at_utc":"","at_offset_s":0}}`
	for _, book := range []string{
		"", "no json", `{"logbook":1}`, `{"logbook":1,"schema":99,"last":1}`, `{"logbook":7,"schema":1,"last":1}`,
		`{"logbook":1,"schema":3,"last":7}` + "\n" + row[:40],
		`{"logbook":1,"schema":3,"last":7}` + "\n" + row + "\n" + row,
		`{"logbook":1,"schema":3,"last":7}` + "\n" + strings.Replace(row, `"id":3`, `"id":"three"`, 1),
		`{"logbook":1,"schema":3,"last":7}` + "\n" + strings.Replace(row, `"q"`, `[1]`, 1),
		`{"logbook":1,"schema":3,"last":7}` + "\n" + strings.Replace(row, "answers", "sequence", 1),
		`{"logbook":1,"schema":3,"last":7}` + "\n" + `{"in":"undone","row":{"id":3,"decision":2,"person":"Ada","session":"s","at_utc":"","at_offset_s":0}}`,
	} {
		dir := t.TempDir()
		_, err := FromLogbook(t.Context(), dir, Options{Now: clock}, strings.NewReader(book))
		require.Error(t, err, book)
		left, err := filepath.Glob(filepath.Join(dir, FileName+"*"))
		require.NoError(t, err)
		assert.Empty(t, left, book)
	}
}

func FuzzFromLogbook(f *testing.F) {
	f.Add(`{"logbook":1,"schema":3,"last":7}` + "\n" + `{"in":"answers","row":{"id":3,"question":"q","answer":"a","person":"Ada","note":"","at_utc":"","at_offset_s":0}}`)
	f.Add(`{"logbook":1,"schema":1,"last":2}`)
	f.Add(``)
	f.Fuzz(func(t *testing.T, book string) {
		s, err := FromLogbook(t.Context(), t.TempDir(), Options{Now: clock}, strings.NewReader(book))
		if err != nil {
			return
		}
		// What was taken can be read again, or says why not; it never panics, and no file leads out of the folder.
		_, _ = s.Decisions(t.Context())
		_, _ = s.Answers(t.Context())
		files, err := s.Files(t.Context())
		if err == nil {
			for _, file := range files {
				assert.Regexp(t, keptName, file.Name)
			}
		}
		require.NoError(t, s.Close())
	})
}
