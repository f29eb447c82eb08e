package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
)

// Numbers of rows mean nothing outside of their own store. To find the same row in another copy of the race,
// each is named by what it says: its columns, and for those that refer to another row, what that one says.

// refers says which columns name rows of which table.
var refers = map[string]map[string]string{
	"sheets":           {"outcome": "outcomes"},
	"reads":            {"sheet": "sheets"},
	"readings":         {"read_id": "reads"},
	"ties":             {"front": "sheets", "back": "sheets"},
	"decisions":        {"sheet": "sheets"},
	"undone":           {"decision": "decisions"},
	"served":           {"sheet": "sheets"},
	"further_refusals": {"outcome": "outcomes"},
	"sighted":          {"decision": "decisions"},
	"heard":            {"strikes": "heard"},
}

// tellsBy are the columns that make a row the same one, where not all of them do: a photo is its bytes, a
// machine's reading is what was read by which version, whenever that was. The sheet whose ink was shown is
// left out: of one photo each copy may hold its own.
var tellsBy = map[string][]string{
	"photos":           {"sha256"},
	"outcomes":         {"photo", "reader", "accepted", "fault", "detail"},
	"sheets":           {"outcome", "part", "run", "course", "card", "side", "race", "layout"},
	"reads":            {"sheet", "reader"},
	"readings":         {"read_id", "reading"},
	"ties":             {"front", "back", "reader"},
	"decisions":        {"reading", "text", "basis", "blind", "read_back", "person", "session", "note", "at_utc", "at_offset_s"},
	"served":           {"session", "person", "reading", "reveals", "what", "at_utc", "at_offset_s"},
	"undone":           {"decision"},
	"sighted":          {"decision"},
	"further_refusals": {"outcome", "fault", "detail"},
	"disputes":         {"kind", "subject"}, // and the two words, in either order
	"sights":           {"name"},            // the same set, beginning with whichever is known in a copy
}

// kin is a row by what it says.
type kin struct {
	table   string
	id      int64
	columns []string
	row     map[string]any
	said    string   // equal in two copies: the same row
	photos  []string // that a machine's reading is of
	side    string   // of a sheet: photo, card and side, whoever read it
}

func (r *kin) text(column string) string {
	t, _ := r.row[column].(string)
	return t
}

func (r *kin) number(column string) int64 {
	n, _ := r.row[column].(int64)
	return n
}

// snapshot is a whole store in memory.
type snapshot struct {
	rows   map[string][]*kin // by table, in the order in which they were kept
	byID   map[string]map[int64]*kin
	known  map[string]bool
	newest map[string]*kin // what became of each photo last
}

func (s *snapshot) holds(said string) bool { return s.known[said] }

func snapshotOf(ctx context.Context, tx *sql.Tx) (*snapshot, error) {
	s := &snapshot{rows: map[string][]*kin{}, byID: map[string]map[int64]*kin{}, known: map[string]bool{}, newest: map[string]*kin{}}
	times := map[string]int{}
	for _, t := range tables {
		s.byID[t.name] = map[int64]*kin{}
		err := eachRow(ctx, tx, t.name, func(row map[string]any) error {
			r := &kin{table: t.name, row: row, columns: slices.Sorted(maps.Keys(row))}
			r.id = r.number("id")
			said, err := s.saying(r)
			if err != nil {
				return err
			}
			times[said]++ // the same said twice is two rows
			r.said = fmt.Sprintf("%s %s %d", t.name, said, times[said])
			s.known[r.said] = true
			s.rows[t.name] = append(s.rows[t.name], r)
			s.byID[t.name][r.id] = r
			if t.name == "outcomes" {
				s.newest[r.text("photo")] = r
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return s, nil
}

// saying sums up what a row says, and notes which photos it is of.
func (s *snapshot) saying(r *kin) (string, error) {
	columns := tellsBy[r.table]
	if columns == nil {
		columns = r.columns
	}
	said := []any{r.table}
	for _, c := range columns {
		if c == "id" {
			continue
		}
		v := r.row[c]
		if table, ok := refers[r.table][c]; ok {
			to := s.byID[table][r.number(c)]
			switch {
			case to != nil:
				v = to.said
				r.photos = append(r.photos, to.photos...)
			case r.number(c) != 0:
				v = "elsewhere"
			}
		}
		said = append(said, c, v)
	}
	switch r.table {
	case "outcomes":
		r.photos = []string{r.text("photo")}
	case "sheets":
		r.side = fmt.Sprint(r.text("photo"), r.number("run"), r.text("course"), r.number("card"), r.text("side"))
	case "disputes":
		words := []string{r.text("ours"), r.text("theirs")}
		slices.Sort(words)
		said = append(said, words)
	}
	text, err := json.Marshal(said)
	if err != nil {
		return "", fmt.Errorf("store: %w", err)
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:]), nil
}
