package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"gatefold/sheetmodel"
)

// Hide says how a copy that may be handed around spells what must not be in it. No function may be nil.
type Hide struct {
	Person func(name string) string             // who typed or was shown something
	Judge  func(name string, card int) string   // a judge whom somebody named, and the card's number
	Note   func(note string) string             // any free text that a person typed
	Answer func(question, v string) string      // an answer, which may hold free text
	Page   func(Sheet) (page []byte, err error) // the straightened side; none: it is left out
}

// hidden says what the copy does with a column. Every column of every table is named: one that is
// forgotten fails, so that nothing is handed around because nobody thought of it.
type hidden func(c *sharing, row map[string]any, v string) (any, error)

var asItIs hidden

var shared = []struct {
	table   string
	columns map[string]hidden
}{
	{"photos", columns("id sha256 file size arrived_utc arrived_offset_s", map[string]hidden{
		"sent_name": func(_ *sharing, row map[string]any, _ string) (any, error) {
			return fmt.Sprintf("photo %v", row["id"]), nil
		},
		// From the photo's own data about itself, of which nothing is told.
		"taken_utc": gone, "taken_offset_s": gone,
	})},
	{"outcomes", columns("id photo reader accepted fault detail remedy at_utc at_offset_s", nil)},
	{"sheets", columns("id outcome photo part run course card side race layout corners grid quality page_px_per_mm at_utc at_offset_s",
		map[string]hidden{"page_file": pageFile, "page_sha256": pageSum})},
	{"reads", columns("id sheet reader at_utc at_offset_s", map[string]hidden{"body": readBody})},
	{"readings", columns("id read_id reading state certainty curve", map[string]hidden{"text": readText})},
	{"ties", columns("id front back reader body at_utc at_offset_s", nil)},
	{"decisions", columns("id reading basis blind read_back sheet at_utc at_offset_s seen",
		map[string]hidden{"text": decidedText, "person": person, "session": session, "note": note})},
	{"undone", columns("id decision at_utc at_offset_s", map[string]hidden{"person": person, "session": session})},
	{"served", columns("id reading sheet reveals what at_utc at_offset_s", map[string]hidden{"person": person, "session": session})},
	{"bindings", columns("id run course card used_run used_course gates grp source at_utc at_offset_s",
		map[string]hidden{"judge": judge, "person": person})},
	{"answers", columns("id question at_utc at_offset_s about seen", map[string]hidden{
		"answer": func(c *sharing, row map[string]any, v string) (any, error) {
			return c.hide.Answer(fmt.Sprint(row["question"]), v), nil
		},
		"person": person, "note": note,
	})},
	{"gap_reasons", columns("id run course card at_utc at_offset_s seen", map[string]hidden{"reason": note, "person": person})},
	{"paper_cards", columns("id run course card row_count at_utc at_offset_s", map[string]hidden{"person": person})},
	{"disputes", columns("id kind subject at_utc at_offset_s", map[string]hidden{"ours": note, "theirs": note})},
	{"sighted", columns("id decision at_utc at_offset_s", map[string]hidden{"why": note})},
	{"forgets", columns("id kinds at_utc at_offset_s", map[string]hidden{"person": person})},
	{"sights", columns("id name base items at_utc at_offset_s", nil)},
	{"further_refusals", columns("id outcome photo fault detail remedy at_utc at_offset_s", nil)},
}

// keptBack are tables of which nothing may be handed around: what came by radio or voice is hearsay about racers.
var keptBack = []string{"heard"}

func columns(plain string, others map[string]hidden) map[string]hidden {
	all := map[string]hidden{}
	for _, c := range strings.Fields(plain) {
		all[c] = asItIs
	}
	for c, h := range others {
		all[c] = h
	}
	return all
}

func gone(*sharing, map[string]any, string) (any, error) { return nil, nil }

func person(c *sharing, _ map[string]any, v string) (any, error) {
	return orNone(v, c.hide.Person), nil
}
func note(c *sharing, _ map[string]any, v string) (any, error) { return orNone(v, c.hide.Note), nil }

func judge(c *sharing, row map[string]any, v string) (any, error) {
	card, _ := row["card"].(int64)
	return orNone(v, func(v string) string { return c.hide.Judge(v, int(card)) }), nil
}

func orNone(v string, spell func(string) string) string {
	if v == "" {
		return ""
	}
	return spell(v)
}

// session numbers sessions as they come: a page's session is secret while it lasts.
func session(c *sharing, _ map[string]any, v string) (any, error) {
	if v == "" {
		return "", nil
	}
	if c.sessions[v] == "" {
		c.sessions[v] = fmt.Sprintf("session %d", len(c.sessions)+1)
	}
	return c.sessions[v], nil
}

// private are fields that name somebody, or that hold whatever a judge wrote beside the rows.
func private(field string) bool {
	field = field[strings.LastIndexByte(field, '/')+1:]
	part := sheetmodel.Part(field[strings.LastIndexByte(field, '.')+1:])
	return part == sheetmodel.PartJudge || part == sheetmodel.PartPhone || part == sheetmodel.PartRemark || strings.HasPrefix(field, string(sheetmodel.PartRemark)+"-")
}

func readText(_ *sharing, row map[string]any, v string) (any, error) {
	if private(fmt.Sprint(row["reading"])) {
		return "", nil
	}
	return v, nil
}

// readBody takes the texts of private fields out of what was read. That they hold ink stays.
func readBody(_ *sharing, _ map[string]any, v string) (any, error) {
	var r SideRead
	if err := json.Unmarshal([]byte(v), &r); err != nil {
		return nil, err
	}
	for _, list := range [][]sheetmodel.Reading{r.Reading.Header, r.Reading.Ink} {
		for i := range list {
			if private(list[i].Field) {
				list[i].Text, list[i].Rivals, list[i].Doubts = "", nil, nil
			}
		}
	}
	body, err := json.Marshal(r)
	return string(body), err
}

// decidedText keeps that somebody entered a judge or a phone, and not which.
func decidedText(c *sharing, row map[string]any, v string) (any, error) {
	key := fmt.Sprint(row["reading"])
	if v == "" || !private(key) {
		return v, nil
	}
	card, _, field, err := ParseKey(key)
	if err == nil && strings.HasSuffix(field, "."+string(sheetmodel.PartJudge)) {
		return c.hide.Judge(v, card.Card), nil
	}
	return c.hide.Note(v), nil
}

func pageFile(c *sharing, row map[string]any, _ string) (any, error) { return c.page(row).file, nil }
func pageSum(c *sharing, row map[string]any, _ string) (any, error)  { return c.page(row).sha, nil }

type sharing struct {
	hide     Hide
	sessions map[string]string
	pages    map[int64]kept // by sheet
}

func (c *sharing) page(row map[string]any) kept {
	id, _ := row["id"].(int64)
	return c.pages[id]
}

// Share makes a copy of the store that may be handed around, as the store of the folder dir, which must
// exist and hold none. It has the same rows under the same numbers, with names, notes and pages as hide
// spells them; originals are named by their SHA-256 and not in it. Pages that no newest reading needs are
// left out. The caller closes the copy.
func (s *Store) Share(ctx context.Context, dir string, hide Hide) (*Store, error) {
	to, err := Open(ctx, dir, Options{Now: s.now})
	if err != nil {
		return nil, err
	}
	if err = s.shareInto(ctx, to, hide); err != nil {
		return nil, errors.Join(err, to.Close())
	}
	return to, nil
}

func (s *Store) shareInto(ctx context.Context, to *Store, hide Hide) error {
	c := &sharing{hide: hide, sessions: map[string]string{}, pages: map[int64]kept{}}
	sheets, err := s.Sheets(ctx)
	if err != nil {
		return err
	}
	for _, sheet := range sheets {
		if sheet.Page == "" {
			continue
		}
		page, err := hide.Page(sheet)
		if err != nil {
			return err
		}
		if len(page) == 0 {
			continue
		}
		if c.pages[sheet.ID], err = to.keep(PagesName, strings.NewReader(string(page)), int64(len(page))); err != nil {
			return err
		}
	}
	if head, err := to.Head(ctx); err != nil || head != 0 {
		return errors.Join(err, fmt.Errorf("store %s: holds a race already", to.dir))
	}
	from, err := s.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true}) // one moment for all tables
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	defer from.Rollback() //nolint:errcheck // only read
	return to.append(ctx, func(j *journal) error {
		if err := from.QueryRowContext(ctx, `SELECT last FROM sequence`).Scan(&j.last); err != nil {
			return fmt.Errorf("store: %w", err)
		}
		for _, t := range shared {
			if err := c.table(ctx, from, j.tx, t.table, t.columns); err != nil {
				return fmt.Errorf("store: %s: %w", t.table, err)
			}
		}
		return nil
	})
}

func (c *sharing) table(ctx context.Context, from, to *sql.Tx, table string, how map[string]hidden) error {
	rows, err := from.QueryContext(ctx, `SELECT * FROM `+table+` ORDER BY id`) //nolint:gosec // one of the names above
	if err != nil {
		return err
	}
	defer rows.Close() //nolint:errcheck // rows.Err tells of any fault of reading
	names, err := rows.Columns()
	if err != nil {
		return err
	}
	places := make([]string, len(names))
	for i, n := range names {
		if _, known := how[n]; !known {
			return fmt.Errorf("nobody has said whether the column %s may be handed around", n)
		}
		places[i] = fmt.Sprintf("$%d", i+1)
	}
	insert := `INSERT INTO ` + table + ` (` + strings.Join(names, ", ") + `) VALUES (` + strings.Join(places, ", ") + `)`
	for rows.Next() {
		values, at := make([]any, len(names)), make([]any, len(names))
		for i := range values {
			at[i] = &values[i]
		}
		if err = rows.Scan(at...); err != nil {
			return err
		}
		row := map[string]any{}
		for i, n := range names {
			row[n] = values[i]
		}
		for i, n := range names {
			if do := how[n]; do != nil {
				text, _ := values[i].(string)
				if values[i], err = do(c, row, text); err != nil {
					return err
				}
			}
		}
		if _, err = to.ExecContext(ctx, insert, values...); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Latest returns when the last thing was kept, in the zone of the clock that it was kept by; the zero
// time for a store that holds nothing.
func (s *Store) Latest(ctx context.Context) (time.Time, error) {
	var last time.Time
	kept := slices.Clone(keptBack)
	for _, t := range shared {
		kept = append(kept, t.table)
	}
	for _, table := range kept {
		column := "at"
		switch table {
		case "photos":
			column = "arrived"
		case "readings":
			continue // kept together with their reads
		}
		times, err := collect(ctx, s.db, func(scan func(...any) error) (time.Time, error) {
			var at stamp
			if err := scan(&at.utc, &at.offset); err != nil {
				return time.Time{}, err
			}
			return at.time()
		}, `SELECT `+column+`_utc, `+column+`_offset_s FROM `+table+` ORDER BY id DESC LIMIT 1`)
		if err != nil {
			return last, err
		}
		for _, at := range times {
			if at.After(last) {
				last = at
			}
		}
	}
	return last, nil
}
