package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gatefold/review/store/salvage"
)

// Rescued says what Rescue brought into the new store and what it could not.
type Rescued struct {
	Pages  int          `json:"pages"`  // of the broken database
	Broken []BrokenPage `json:"broken"` // page 0 is the head of the file
	// Kept counts rows by table.
	Kept map[string]int `json:"kept"`
	Lost []LostRow      `json:"lost"`
	// Unknown are numbers of rows that are lost, and of what kind they were no page tells.
	Unknown []int64 `json:"unknown"`
	// NoEnd: what was kept last may be lost without a number telling so.
	NoEnd bool `json:"no_end"`
	// TakenBack are decisions that a lost one had replaced, or that had been taken back: they don't stand.
	TakenBack []int64 `json:"taken_back"`
	// Blind reports that what was shown to whom is still known whole; if not, none of those who were at work
	// gives an unseen look any more at what was there.
	Blind    bool     `json:"served_log_whole"`
	Anew     []string `json:"photos_anew"`       // originals whose row is lost, taken in anew by their bytes
	Again    []string `json:"photos_read_again"` // names of photos whose reading is lost in part or whole: collect reads them again
	Missing  []string `json:"missing"`           // files that rows name and the race folder lacks or holds altered
	LeftOut  int      `json:"left_out"`          // readable rows that rested on lost ones
	Readable bool     `json:"-"`                 // nothing was broken
}

// BrokenPage is a page that couldn't be read whole.
type BrokenPage struct {
	Page int    `json:"page"`
	Why  string `json:"why"`
}

// LostRow is a row that was there. What is a reading's key for a decision, else empty.
type LostRow struct {
	Table string `json:"table"`
	ID    int64  `json:"id"`
	What  string `json:"what,omitempty"`
}

// rescuer is how the rows that it adds name who did it.
const rescuer = "rescue"

// Rescue reads what can be read of the database in the race folder dir, however broken, and makes a store of it in
// the folder to, which must be there and hold none. dir is only read. Originals and pages come along, each checked
// by its sum.
//
// What is lost can't make anything stand that didn't: a decision whose successor is lost is taken back, and where the
// log of what was shown has a hole nobody who was at work counts as unseen. Rows carry one sequence of numbers
// without gaps, and indices repeat what rows say: so each lost row is named, as long as one of the two is readable.
// Damage inside a text that leaves its page in shape can't be seen.
//
// ErrNotFound: dir holds no database; ErrElsewhere: it lies in PostgreSQL. A *NewerError: a newer program wrote it.
func Rescue(ctx context.Context, dir, to string, opt Options) (done Rescued, err error) {
	if address, err := addressOf(dir); err != nil || address != "" {
		if err == nil {
			err = ErrElsewhere
		}
		return done, err
	}
	file, err := readDatabase(filepath.Join(dir, FileName))
	if errors.Is(err, fs.ErrNotExist) {
		return done, fmt.Errorf("%s: %w", filepath.Join(dir, FileName), ErrNotFound)
	}
	if err != nil {
		return done, err
	}
	wal, err := readDatabase(filepath.Join(dir, FileName+"-wal"))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return done, err
	}
	shapes, err := shapesOf(ctx, opt)
	if err != nil {
		return done, err
	}
	r := &rescue{dir: dir, to: to, opt: opt, found: salvage.Read(file, wal, shapes), rows: map[string]map[int64]map[string]any{}, ids: map[string]map[int64]int64{}, done: &done}
	if err = r.take(shapes); err != nil {
		return done, err
	}
	r.miss()
	if err = r.photos(); err != nil {
		return done, err
	}
	r.readings()
	r.decisions()
	r.blind()
	return done, r.write(ctx)
}

func readDatabase(path string) ([]byte, error) {
	if err := plainDatabase(path); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
}

// shapesOf asks a new database what its tables look like.
func shapesOf(ctx context.Context, opt Options) (all []salvage.Table, err error) {
	scratch, err := os.MkdirTemp("", "gatefold-rescue-*")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(scratch)) }()
	s, err := Open(ctx, scratch, opt)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	names := []string{"sequence", "schema_versions"}
	for _, t := range tables {
		names = append(names, t.name)
	}
	for _, name := range names {
		columns, err := collect(ctx, s.db, func(scan func(...any) error) (c salvage.Column, err error) {
			var n, notNull, key int
			var kind string
			var standard any
			err = scan(&n, &c.Name, &kind, &notNull, &standard, &key)
			c.NotNull = notNull != 0
			if fmt.Sprint(standard) == "''" {
				c.Before = ""
			}
			switch {
			case kind == "TEXT":
				c.Kind = salvage.Text
			case strings.HasPrefix(kind, "DOUBLE"):
				c.Kind = salvage.Real
			}
			return c, err
		}, `PRAGMA table_info(`+name+`)`) // SQLite's own, like the file that is to be read
		if err != nil {
			return nil, err
		}
		all = append(all, salvage.Table{Name: name, Columns: columns, Is: tellers[name]})
	}
	return all, nil
}

// tellers tell apart rows of tables that have the same columns.
var tellers = map[string]func([]any) bool{
	"reads":    func(v []any) bool { return isObject(v[3]) },
	"undone":   func(v []any) bool { return !isObject(v[3]) },
	"disputes": func(v []any) bool { return isDispute(v[1]) },
	"answers":  func(v []any) bool { return !isDispute(v[1]) },
}

func isObject(v any) bool {
	text, _ := v.(string)
	return strings.HasPrefix(text, "{") && json.Valid([]byte(text))
}

func isDispute(v any) bool {
	text, _ := v.(string)
	return slices.Contains([]DisputeKind{DisputeReading, DisputeAnswer, DisputeBinding, DisputeGap, DisputePaper}, DisputeKind(text))
}

type rescue struct {
	dir, to string
	opt     Options
	found   salvage.Found
	rows    map[string]map[int64]map[string]any // by table and number
	ids     map[string]map[int64]int64          // number of a row by the number that SQLite gives it, lost rows too
	last    int64
	done    *Rescued
}

// take puts readable rows in order.
func (r *rescue) take(shapes []salvage.Table) error {
	d := r.done
	*d = Rescued{Pages: r.found.Pages, Broken: []BrokenPage{}, Kept: map[string]int{}, Lost: []LostRow{}, Unknown: []int64{},
		TakenBack: []int64{}, Anew: []string{}, Again: []string{}, Missing: []string{}}
	for _, p := range r.found.Broken {
		d.Broken = append(d.Broken, BrokenPage{p.Number, p.Why})
	}
	d.Readable = len(d.Broken) == 0
	for _, row := range r.found.Rows["schema_versions"] {
		if v, _ := row.Values[0].(int64); v > int64(len(migrations)) {
			return &NewerError{Path: filepath.Join(r.dir, FileName), Found: int(v), Know: len(migrations)}
		}
	}
	r.done.NoEnd = len(r.found.Rows["sequence"]) == 0
	for _, row := range r.found.Rows["sequence"] {
		if v, _ := row.Values[0].(int64); v < 1<<40 {
			r.last = max(r.last, v)
		}
	}
	taken := map[int64]bool{}
	for _, shape := range shapes[2:] {
		r.rows[shape.Name], r.ids[shape.Name] = map[int64]map[string]any{}, map[int64]int64{}
		for _, found := range r.found.Rows[shape.Name] {
			id, _ := found.Values[0].(int64)
			if id < 1 || taken[id] {
				continue // a leaf that was given up holds what stands elsewhere too
			}
			taken[id] = true
			row := map[string]any{}
			for i, c := range shape.Columns {
				row[c.Name] = found.Values[i]
			}
			r.rows[shape.Name][id], r.ids[shape.Name][found.Rowid] = row, id
			r.last = max(r.last, id)
		}
	}
	return nil
}

// miss finds out which rows are lost.
func (r *rescue) miss() {
	known := map[int64]bool{}
	for _, t := range tables {
		for id := range r.rows[t.name] {
			known[id] = true
		}
	}
	for _, t := range tables {
		for _, key := range r.found.Keys["sqlite_autoindex_"+t.name+"_1"] {
			id, ok1 := number(key, 0)
			rowid, ok2 := number(key, 1)
			if !ok1 || !ok2 || id < 1 {
				continue
			}
			r.ids[t.name][rowid] = id
			if !known[id] {
				known[id] = true
				r.last = max(r.last, id)
				r.done.Lost = append(r.done.Lost, LostRow{Table: t.name, ID: id})
			}
		}
	}
	for id := int64(1); id <= r.last && len(r.done.Unknown) < 1<<20; id++ {
		if !known[id] {
			r.done.Unknown = append(r.done.Unknown, id)
		}
	}
	for i := range r.done.Lost {
		if l := &r.done.Lost[i]; l.Table == "decisions" {
			l.What, _ = r.keyOf("decisions_reading", "decisions", l.ID).(string)
		}
	}
	slices.SortFunc(r.done.Lost, func(a, b LostRow) int { return int(a.ID - b.ID) })
}

func number(values []any, i int) (int64, bool) {
	if i >= len(values) {
		return 0, false
	}
	n, ok := values[i].(int64)
	return n, ok
}

// keyOf returns what an index says of a row, nil if nothing.
func (r *rescue) keyOf(index, table string, id int64) any {
	for _, key := range r.found.Keys[index] {
		if rowid, ok := number(key, 1); ok && r.ids[table][rowid] == id && len(key) == 2 {
			return key[0]
		}
	}
	return nil
}

// add puts in a row under a new number.
func (r *rescue) add(table string, row map[string]any) {
	r.last++
	at := stampOf(r.opt.Now())
	row["id"], row["at_utc"], row["at_offset_s"] = r.last, at.utc.String, at.offset.Int64
	r.rows[table][r.last] = row
}

// photos takes in anew each whole original that no row names, for its row may be lost.
func (r *rescue) photos() error {
	named := map[string]bool{}
	for _, row := range r.rows["photos"] {
		named[row["sha256"].(string)] = true
	}
	entries, err := os.ReadDir(filepath.Join(r.dir, OriginalsName))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	files := &Store{dir: r.dir}
	for _, e := range entries {
		file := OriginalsName + "/" + e.Name()
		m := keptName.FindStringSubmatch(file)
		if m == nil || named[m[1]] {
			continue
		}
		info, err := e.Info()
		if err != nil {
			return err
		}
		if sum, err := files.hash(file); err != nil || sum != m[1] {
			continue // half an upload that was never acknowledged, or damaged: then its lost row is named
		}
		id := int64(0)
		for _, key := range r.found.Keys["sqlite_autoindex_photos_2"] {
			if rowid, ok := number(key, 1); ok && key[0] == m[1] {
				id = r.ids["photos"][rowid]
			}
		}
		if id == 0 || r.rows["photos"][id] != nil {
			r.last++
			id = r.last
		}
		at := stampOf(info.ModTime())
		r.rows["photos"][id] = map[string]any{"id": id, "sha256": m[1], "sent_name": e.Name(), "file": file, "size": info.Size(),
			"taken_utc": nil, "taken_offset_s": nil, "arrived_utc": at.utc.String, "arrived_offset_s": at.offset.Int64}
		r.done.Anew = append(r.done.Anew, e.Name())
	}
	return nil
}

// readings leaves out what a reader made of a photo wherever part of it is lost: it is read again, whole.
func (r *rescue) readings() {
	photos := map[string]string{} // name by sum
	for _, row := range r.rows["photos"] {
		photos[row["sha256"].(string)] = row["sent_name"].(string)
	}
	spoilt := map[int64]bool{} // outcomes
	read := map[int64]bool{}   // sheets
	for _, row := range r.rows["reads"] {
		read[row["sheet"].(int64)] = true
	}
	sides := map[int64]int{} // sheets of an outcome
	for id, row := range r.rows["sheets"] {
		outcome := row["outcome"].(int64)
		sides[outcome]++
		if !read[id] || r.rows["outcomes"][outcome] == nil {
			spoilt[outcome] = true
		}
	}
	for _, l := range r.done.Lost {
		if l.Table == "sheets" {
			if outcome, ok := r.keyOf("sheets_outcome", "sheets", l.ID).(int64); ok {
				spoilt[outcome] = true
			}
		}
	}
	again := map[string]bool{}
	for id, row := range r.rows["outcomes"] {
		sha := row["photo"].(string)
		if row["accepted"] == int64(1) && sides[id] == 0 || photos[sha] == "" {
			spoilt[id] = true
		}
		if spoilt[id] {
			again[sha] = true
			r.leave("outcomes", id)
		}
	}
	for id, row := range r.rows["sheets"] {
		if spoilt[row["outcome"].(int64)] || photos[row["photo"].(string)] == "" {
			again[row["photo"].(string)] = true
			r.leave("sheets", id)
		}
	}
	for table, parent := range map[string][2]string{"further_refusals": {"outcome", "outcomes"}, "reads": {"sheet", "sheets"}} {
		for id, row := range r.rows[table] {
			if r.rows[parent[1]][row[parent[0]].(int64)] == nil {
				r.leave(table, id)
			}
		}
	}
	for id, row := range r.rows["readings"] {
		if r.rows["reads"][row["read_id"].(int64)] == nil {
			r.leave("readings", id)
		}
	}
	for id, row := range r.rows["ties"] { // made anew when photos are collected
		for _, side := range []string{"front", "back"} { // 0: there is no such side
			if sheet := row[side].(int64); sheet != 0 && r.rows["sheets"][sheet] == nil && r.rows["ties"][id] != nil {
				r.leave("ties", id)
			}
		}
	}
	for _, l := range r.done.Lost {
		if l.Table == "outcomes" {
			if sha, ok := r.keyOf("outcomes_photo", "outcomes", l.ID).(string); ok {
				again[sha] = true
			}
		}
	}
	for sha := range again {
		if photos[sha] != "" {
			r.done.Again = append(r.done.Again, photos[sha])
		}
	}
	slices.Sort(r.done.Again)
}

func (r *rescue) leave(table string, id int64) {
	delete(r.rows[table], id)
	r.done.LeftOut++
}

// decisions sees to it that nothing stands that had been replaced or taken back.
func (r *rescue) decisions() {
	back := map[int64]bool{}
	for table, column := range map[string]string{"undone": "decision", "sighted": "decision"} {
		for id, row := range r.rows[table] {
			d := row[column].(int64)
			if r.rows["decisions"][d] == nil {
				r.leave(table, id)
			} else if table == "undone" {
				back[d] = true
			}
		}
	}
	takeBack := func(id int64) {
		if d := r.rows["decisions"][id]; d != nil && !back[id] {
			back[id] = true
			r.add("undone", map[string]any{"decision": id, "person": rescuer, "session": rescuer})
			r.done.TakenBack = append(r.done.TakenBack, id)
		}
	}
	ids := slices.Sorted(maps.Keys(r.rows["decisions"]))
	for _, l := range r.done.Lost {
		switch l.Table {
		case "decisions":
			for _, id := range ids {
				if l.What != "" && r.rows["decisions"][id]["reading"] == l.What {
					takeBack(id)
				}
			}
		case "undone":
			if d, ok := r.keyOf("sqlite_autoindex_undone_2", "undone", l.ID).(int64); ok {
				takeBack(d)
			}
		case "sighted":
			if d, ok := r.keyOf("sqlite_autoindex_sighted_2", "sighted", l.ID).(int64); ok && r.rows["decisions"][d] != nil {
				r.add("sighted", map[string]any{"decision": d, "why": "the row that said so is lost"})
			}
		}
	}
	slices.Sort(r.done.TakenBack)
	r.unplaced()
}

// unplaced takes the blindness from decisions about a sheet of which nobody knows any more in which photo it was: another photo may
// show the card after it was mended, and nothing tells that they weren't made at that.
func (r *rescue) unplaced() {
	sighted := map[int64]bool{}
	for _, row := range r.rows["sighted"] {
		sighted[row["decision"].(int64)] = true
	}
	for _, id := range slices.Sorted(maps.Keys(r.rows["decisions"])) {
		if sheet := r.rows["decisions"][id]["sheet"].(int64); sheet > 0 && r.rows["sheets"][sheet] == nil && !sighted[id] {
			r.add("sighted", map[string]any{"decision": id, "why": "the row that said at which photo is lost"})
		}
	}
}

// blind closes the hole that lost rows leave in the log of what was shown: everybody counts as having seen all.
func (r *rescue) blind() {
	r.done.Blind = len(r.done.Unknown) == 0 && !r.done.NoEnd && !slices.ContainsFunc(r.done.Lost, func(l LostRow) bool {
		return l.Table == "served" || l.Table == "undone" || l.Table == "decisions"
	})
	if r.done.Blind {
		return
	}
	people := map[string]bool{}
	for _, table := range []string{"served", "decisions", "undone", "bindings", "answers", "paper_cards"} {
		for _, row := range r.rows[table] {
			if p, _ := row["person"].(string); p != "" && p != rescuer {
				people[p] = true
			}
		}
	}
	for _, p := range slices.Sorted(maps.Keys(people)) {
		r.add("served", map[string]any{"session": rescuer, "person": p, "reading": AllReadings, "sheet": int64(0), "reveals": int64(1),
			"what": "rows that say what was shown are lost"})
	}
}

// write makes the new store, and brings the files that its rows name.
func (r *rescue) write(ctx context.Context) (err error) {
	var text bytes.Buffer
	e := json.NewEncoder(&text)
	e.SetEscapeHTML(false)
	if err = e.Encode(logbookHead{Logbook: logbookFormat, Schema: len(migrations), Last: r.last}); err != nil {
		return err
	}
	for _, t := range tables {
		for _, id := range slices.Sorted(maps.Keys(r.rows[t.name])) {
			if err = e.Encode(logbookRow{In: t.name, Row: r.rows[t.name][id]}); err != nil {
				return err
			}
		}
		r.done.Kept[t.name] = len(r.rows[t.name])
	}
	s, err := FromLogbook(ctx, r.to, r.opt, &text)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	files, err := s.Files(ctx)
	if err != nil {
		return err
	}
	from := &Store{dir: r.dir}
	for _, f := range files {
		if err = ctx.Err(); err != nil {
			return err
		}
		if sum, err := from.hash(f.Name); err != nil || sum != f.SHA256 {
			r.done.Missing = append(r.done.Missing, f.Name)
			continue
		}
		source, err := from.OpenFile(f.Name)
		if err != nil {
			return err
		}
		folder, _, _ := strings.Cut(f.Name, "/")
		k, err := s.keep(folder, source, -1)
		if err = errors.Join(err, source.Close()); err != nil {
			return err
		}
		if k.file != f.Name { // its ending was given by an older program
			if err = os.Rename(s.path(k.file), s.path(f.Name)); err != nil {
				return err
			}
		}
	}
	return nil
}
