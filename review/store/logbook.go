package store

import (
	"bufio"
	"bytes"
	"context"
	"database/sql"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// The logbook is everything that a store's database holds, as text: one JSON object a line. The first line
// says format, schema and last number; each further one is a row of a table, the tables in the order in
// which they refer to each other, the rows in the order in which they were kept.
//
//	{"logbook":1,"schema":3,"last":1234}
//	{"in":"photos","row":{"id":1,"sha256":"...","sent_name":"card-07.jpg",...}}
//
// A text that is no UTF-8 stands as {"base64":"..."}.

// logbookFormat is the format number of a logbook.
const logbookFormat = 1

// maxLogbookLine bounds one row: the readings of one side have a thousandth of it.
const maxLogbookLine = 64 << 20

// tables hold all that was ever kept, each after those it refers to, and since is the schema that made it.
var tables = []struct {
	name  string
	since int
}{
	{"photos", 1}, {"outcomes", 1}, {"sheets", 1}, {"reads", 1}, {"readings", 1}, {"ties", 1}, {"decisions", 1}, {"undone", 1}, {"served", 1},
	{"bindings", 1}, {"answers", 1}, {"gap_reasons", 1}, {"paper_cards", 1}, {"further_refusals", 2}, {"disputes", 3}, {"sighted", 3}, {"forgets", 3}, {"heard", 4}, {"sights", 7},
}

type logbookHead struct {
	Logbook int   `json:"logbook"`
	Schema  int   `json:"schema"`
	Last    int64 `json:"last"`
}

type logbookRow struct {
	In  string         `json:"in"`
	Row map[string]any `json:"row"`
}

// WriteLogbook writes the whole database as text; equal stores give equal bytes. The files beside it, see
// Files, are not in it.
func (s *Store) WriteLogbook(ctx context.Context, w io.Writer) error {
	opt := sql.TxOptions{ReadOnly: true} // one moment for all tables
	if s.pg {
		opt.Isolation = sql.LevelRepeatableRead // which SQLite has anyway
	}
	tx, err := s.db.BeginTx(ctx, &opt)
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	defer tx.Rollback() //nolint:errcheck // only read
	head := logbookHead{Logbook: logbookFormat, Schema: len(migrations)}
	if err = tx.QueryRowContext(ctx, `SELECT last FROM sequence`).Scan(&head.Last); err != nil {
		return fmt.Errorf("store: %w", err)
	}
	out := bufio.NewWriter(w)
	e := json.NewEncoder(out)
	e.SetEscapeHTML(false)
	if err = e.Encode(head); err != nil {
		return err
	}
	for _, t := range tables {
		err = eachRow(ctx, tx, t.name, func(row map[string]any) error {
			for column, v := range row {
				if text, ok := v.(string); ok && !utf8.ValidString(text) {
					row[column] = map[string]string{"base64": base64.StdEncoding.EncodeToString([]byte(text))}
				}
			}
			return e.Encode(logbookRow{In: t.name, Row: row})
		})
		if err != nil {
			return err
		}
	}
	return out.Flush()
}

// eachRow hands out the rows of a table by their columns, in the order of their numbers.
func eachRow(ctx context.Context, tx *sql.Tx, table string, do func(map[string]any) error) error {
	rows, err := tx.QueryContext(ctx, `SELECT * FROM `+table+` ORDER BY id`) //nolint:gosec // one of the names above
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	defer rows.Close() //nolint:errcheck // rows.Err tells of any fault of reading
	columns, err := rows.Columns()
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	for rows.Next() {
		values, places := make([]any, len(columns)), make([]any, len(columns))
		for i := range values {
			places[i] = &values[i]
		}
		if err = rows.Scan(places...); err != nil {
			return fmt.Errorf("store: %w", err)
		}
		row := map[string]any{}
		for i, c := range columns {
			if b, ok := values[i].([]byte); ok {
				values[i] = string(b)
			}
			row[c] = values[i]
		}
		if err = do(row); err != nil {
			return err
		}
	}
	if err = rows.Err(); err != nil {
		return fmt.Errorf("store: %w", err)
	}
	return nil
}

// ErrNoLogbook is returned for a text that isn't a logbook, or not a whole one.
var ErrNoLogbook = errors.New("not a whole logbook")

// FromLogbook makes the store of a race folder from a logbook; dir must hold none yet. An older schema is
// brought up to date afterwards; a newer one is a *NewerError. The files beside the database are the
// caller's to bring, see Files. When it fails, the database that it began is gone again.
func FromLogbook(ctx context.Context, dir string, opt Options, r io.Reader) (s *Store, err error) {
	path := filepath.Join(dir, FileName)
	if _, err = os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: is there already; name a new folder", path)
	}
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, maxLogbookLine)
	var head logbookHead
	if !lines.Scan() || json.Unmarshal(lines.Bytes(), &head) != nil || head.Logbook == 0 || head.Schema < 1 {
		return nil, fmt.Errorf("%w: line 1 is no head of one", ErrNoLogbook)
	}
	if head.Logbook > logbookFormat || head.Schema > len(migrations) {
		return nil, &NewerError{Path: "logbook", Found: head.Schema, Know: len(migrations)}
	}
	if s, err = openAt(ctx, dir, opt, head.Schema); err != nil {
		return nil, err
	}
	err = s.load(ctx, head, lines)
	if err == nil {
		err = s.migrate(ctx, path, len(migrations))
	}
	if err != nil {
		err = errors.Join(err, s.Close())
		for _, end := range []string{"", "-wal", "-shm"} {
			if gone := os.Remove(path + end); gone != nil && !errors.Is(gone, fs.ErrNotExist) {
				err = errors.Join(err, gone)
			}
		}
		return nil, err
	}
	return s, nil
}

// load puts all rows in with the numbers that they had, all or nothing.
func (s *Store) load(ctx context.Context, head logbookHead, lines *bufio.Scanner) error {
	return s.append(ctx, func(j *journal) error {
		inserts := map[string]*insert{}
		n, table := 1, 0
		for lines.Scan() {
			n++
			bad := func(why string, more ...any) error {
				return fmt.Errorf("%w: line %d: %s", ErrNoLogbook, n, fmt.Sprintf(why, more...))
			}
			var l logbookRow
			d := json.NewDecoder(bytes.NewReader(lines.Bytes()))
			d.UseNumber()
			if err := d.Decode(&l); err != nil || l.Row == nil {
				return bad("no row")
			}
			i := slices.IndexFunc(tables, func(t struct {
				name  string
				since int
			}) bool {
				return t.name == l.In && t.since <= head.Schema
			})
			if i < table {
				return bad("a row of %q can't stand here", l.In)
			}
			table = i
			into := inserts[l.In]
			if into == nil {
				var err error
				if into, err = insertInto(j, l.In); err != nil {
					return err
				}
				inserts[l.In] = into
			}
			values, id, err := into.values(l.Row)
			if err != nil {
				return bad("%v", err)
			}
			if id < 1 || id > head.Last {
				return bad("number %d is not among 1 to %d", id, head.Last)
			}
			if _, err = j.tx.ExecContext(ctx, into.text, values...); err != nil {
				return bad("%v", err)
			}
		}
		if err := lines.Err(); err != nil {
			return fmt.Errorf("%w: line %d: %w", ErrNoLogbook, n+1, err)
		}
		j.last = head.Last
		return nil
	})
}

// insert puts whole rows into a table, its number included.
type insert struct {
	table   string
	columns []string
	real    map[string]bool
	text    string
}

func insertInto(j *journal, table string) (*insert, error) {
	rows, err := j.tx.QueryContext(j.ctx, `SELECT * FROM `+table+` WHERE 1 = 0`) //nolint:gosec // one of the names above
	if err != nil {
		return nil, fmt.Errorf("store: %w", err)
	}
	defer rows.Close() //nolint:errcheck // rows.Err tells of any fault of reading
	types, err := rows.ColumnTypes()
	if err = errors.Join(err, rows.Err()); err != nil {
		return nil, fmt.Errorf("store: %w", err)
	}
	in := &insert{table: table, real: map[string]bool{}}
	var marks []string
	for i, t := range types {
		in.columns = append(in.columns, t.Name())
		in.real[t.Name()] = strings.HasPrefix(t.DatabaseTypeName(), "DOUBLE") || t.DatabaseTypeName() == "FLOAT8"
		marks = append(marks, "$"+strconv.Itoa(i+1))
	}
	in.text = `INSERT INTO ` + table + ` (` + strings.Join(in.columns, ", ") + `) VALUES (` + strings.Join(marks, ", ") + `)`
	return in, nil
}

// values are a row's values in the order of the columns, as the database takes them.
func (in *insert) values(row map[string]any) ([]any, int64, error) {
	if len(row) != len(in.columns) {
		return nil, 0, fmt.Errorf("%s: %d columns instead of %d", in.table, len(row), len(in.columns))
	}
	var id int64
	values := make([]any, len(in.columns))
	for i, c := range in.columns {
		v, ok := row[c]
		if !ok {
			return nil, 0, fmt.Errorf("%s: no column %s", in.table, c)
		}
		v, err := in.value(c, v)
		if err != nil {
			return nil, 0, fmt.Errorf("%s: %s: %w", in.table, c, err)
		}
		if c == "id" {
			if id, ok = v.(int64); !ok {
				return nil, 0, fmt.Errorf("%s: no number", in.table)
			}
		}
		values[i] = v
	}
	return values, id, in.named(row)
}

func (in *insert) value(column string, v any) (any, error) {
	switch v := v.(type) {
	case nil, string, int64, float64:
		return v, nil
	case json.Number:
		if in.real[column] {
			return v.Float64()
		}
		return v.Int64()
	case map[string]any:
		text, _ := v["base64"].(string)
		b, err := base64.StdEncoding.DecodeString(text)
		return string(b), err
	}
	return nil, errors.New("neither text nor number")
}

// keptName is how a file beside the database is called: by its sum, in one of two folders.
var keptName = regexp.MustCompile(`^(?:` + OriginalsName + `|` + PagesName + `)/([0-9a-f]{64})\.[a-z]{3,4}$`)

// named demands that a row names no file but one by its own sum: no row leads out of the race folder.
func (in *insert) named(row map[string]any) error {
	file, sum := "", ""
	switch in.table {
	case "photos":
		file, _ = row["file"].(string)
		sum, _ = row["sha256"].(string)
	case "sheets":
		file, _ = row["page_file"].(string)
		sum, _ = row["page_sha256"].(string)
		if file == "" && sum == "" {
			return nil
		}
	default:
		return nil
	}
	if m := keptName.FindStringSubmatch(file); m == nil || m[1] != sum {
		return fmt.Errorf("%s: file %q is not named by its sum", in.table, file)
	}
	return nil
}
