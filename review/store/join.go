package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gatefold/review/look"
	"gatefold/sheetmodel"
)

// Joined says what Join took over from another copy of the race.
type Joined struct {
	Photos    int `json:"photos"`
	Decisions int `json:"decisions"`
	Records   int `json:"records"` // places, answers, reasons for gaps, papers, and what was taken back
	// Disputes are what the two copies settled differently. Each waits for a person.
	Disputes []Dispute `json:"disputes"`
	// Sighted counts entries that are no longer unseen: their typist was shown the text in the other copy.
	Sighted int `json:"sighted"`
	// Damaged names originals and pages that are missing or altered in the other copy. What is known of them
	// was taken over all the same.
	Damaged []string `json:"damaged"`
}

// Changed reports whether anything was taken over.
func (j Joined) Changed() bool { return j.Photos+j.Decisions+j.Records > 0 || len(j.Disputes) > 0 }

// ErrForgotten is returned where a person's data was removed from one of two copies only, or from both after they parted.
var ErrForgotten = errors.New("people were forgotten in one of the two since they parted, and joining would bring their names back")

// OpenCopy opens the store of a race folder that is only read: its database is copied to scratch, an empty
// folder of the caller's, and opened there; originals and pages are read where they are. Whatever an older
// program wrote is brought up to date in the copy. ErrNotFound: the folder holds no store.
func OpenCopy(ctx context.Context, dir, scratch string, opt Options) (*Store, error) {
	if opt.Now == nil {
		return nil, errors.New("store: no clock given")
	}
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, fmt.Errorf("store %s: %w", dir, err)
	}
	if err = copyDatabase(abs, scratch); errors.Is(err, ErrElsewhere) {
		return nil, err
	} else if err != nil {
		return nil, fmt.Errorf("store %s: %w", dir, err)
	}
	path := filepath.Join(scratch, FileName)
	db, err := openDatabase(path)
	if err != nil {
		return nil, err
	}
	s := &Store{db: db, dir: abs, now: opt.Now, step: func(string) error { return nil }, sheets: map[int64]Sheet{}}
	if err = s.migrate(ctx, path, len(migrations)); err == nil {
		err = s.whole(ctx)
	}
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return s, nil
}

// OpenSketch opens a copy of a race's database in scratch, an empty folder of the caller's, to try out what a
// change would do: whatever is added lands in scratch, pages too, and the race stays as it is. Originals and
// pages of the race are not in it. ErrNotFound: the folder holds no store.
func OpenSketch(ctx context.Context, dir, scratch string, opt Options) (*Store, error) {
	if err := copyDatabase(dir, scratch); errors.Is(err, ErrElsewhere) {
		return nil, err
	} else if err != nil {
		return nil, fmt.Errorf("store %s: %w", dir, err)
	}
	return Open(ctx, scratch, opt)
}

// ErrElsewhere is returned by OpenCopy, OpenSketch and Rescue for a race whose rows lie in PostgreSQL: there is no file
// that could be copied.
var ErrElsewhere = fmt.Errorf("its rows lie in the PostgreSQL database that %s names, not beside it", AddressName)

// copyDatabase copies the database of a race folder, or returns ErrNotFound or ErrElsewhere.
func copyDatabase(dir, to string) error {
	address, err := addressOf(dir)
	if err != nil {
		return err
	}
	if address != "" {
		return ErrElsewhere
	}
	// The log beside the database holds its newest rows, for as long as no program has put them in.
	for _, end := range []string{"", "-wal"} {
		err := copyFile(filepath.Join(dir, FileName+end), filepath.Join(to, FileName+end))
		switch {
		case errors.Is(err, fs.ErrNotExist) && end == "":
			return ErrNotFound
		case err != nil && !errors.Is(err, fs.ErrNotExist):
			return err
		}
	}
	return nil
}

// whole asks the database to check itself.
func (s *Store) whole(ctx context.Context) error {
	lines, err := collect(ctx, s.db, func(scan func(...any) error) (line string, err error) {
		return line, scan(&line)
	}, `PRAGMA integrity_check`) // a copy is a file, so it is SQLite
	if err == nil && (len(lines) != 1 || lines[0] != "ok") {
		err = fmt.Errorf("%s: %s; take another copy", filepath.Join(s.dir, FileName), strings.Join(lines, "; "))
	}
	return err
}

// maxDatabase bounds a database file that is copied, or read into memory as a whole by Rescue: some 8,000 photos.
const maxDatabase = 1 << 30

// plainDatabase refuses what is no plain file or larger than any race's: a device never ends, and would fill disk or
// memory. A file that is not there is the error fs.ErrNotExist.
func plainDatabase(path string) error {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return err
	case !info.Mode().IsRegular():
		return fmt.Errorf("%s: is no plain file; put the race's own in its place", path)
	case info.Size() > maxDatabase:
		return fmt.Errorf("%s: has %d MB, more than any race's database (%d); take another copy", path, info.Size()>>20, maxDatabase>>20)
	}
	return nil
}

func copyFile(from, to string) error {
	if err := plainDatabase(from); err != nil {
		return err
	}
	f, err := os.Open(from)
	if err != nil {
		return err
	}
	defer f.Close() //nolint:errcheck // only read
	t, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(t, f)
	return errors.Join(err, t.Close())
}

// Join takes over whatever other, another copy of the same race, holds and this one doesn't: photos by their
// SHA-256, and each decision, answer and record by all that it says. Nothing here is replaced or removed, and
// other is only read. Joined once more, nothing is added.
//
// What only one of the two said since they parted stands, in whichever it was said. What both said, and
// differently, is a Dispute: neither counts until a person settles it here. Neither clock decides, for two
// laptops' clocks can't be compared. An entry loses its blindness where its typist was shown the text, or
// took an entry back, in the other copy. Of a photo that both have read, each keeps its own reading: it can be
// made again from the original.
//
// Either all of it is taken over, durably, or nothing but files that no row names.
func (s *Store) Join(ctx context.Context, other *Store) (Joined, error) {
	done := Joined{Disputes: []Dispute{}, Damaged: []string{}}
	names, err := s.bring(ctx, other, &done)
	if err != nil {
		return Joined{}, err
	}
	theirs, err := other.snapshot(ctx)
	if err != nil {
		return Joined{}, err
	}
	err = s.append(ctx, func(j *journal) error {
		ours, err := snapshotOf(ctx, j.tx)
		if err != nil {
			return err
		}
		return (&join{j: j, ours: ours, theirs: theirs, names: names, done: &done}).run()
	})
	if err != nil {
		return Joined{}, err
	}
	return done, nil
}

// bring keeps other's files, and returns under which names those are kept that were not there.
func (s *Store) bring(ctx context.Context, other *Store, done *Joined) (map[string]string, error) {
	have, err1 := s.Files(ctx)
	theirs, err2 := other.Files(ctx)
	if err := errors.Join(err1, err2); err != nil {
		return nil, err
	}
	names := map[string]string{}
	for _, f := range theirs {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if slices.Contains(have, f) {
			continue
		}
		from, err := other.OpenFile(f.Name)
		if err != nil {
			done.Damaged = append(done.Damaged, f.Name)
			continue
		}
		// Looked at first: what is altered is not kept under another sum.
		sum, err := other.hash(f.Name)
		if err != nil || sum != f.SHA256 {
			done.Damaged = append(done.Damaged, f.Name)
			if err = from.Close(); err != nil {
				return nil, err
			}
			continue
		}
		folder, _, _ := strings.Cut(f.Name, "/")
		k, err := s.keep(folder, from, -1)
		if err = errors.Join(err, from.Close()); err != nil {
			return nil, fmt.Errorf("%s: %w", f.Name, err)
		}
		if k.sha != f.SHA256 {
			return nil, fmt.Errorf("%s: changed while it was read", f.Name)
		}
		names[f.Name] = k.file
	}
	return names, nil
}

// join is one Join at work.
type join struct {
	j            *journal
	ours, theirs *snapshot
	names        map[string]string
	done         *Joined
	moved        map[string]int64 // numbers here, by what is said
	fresh        []*kin           // theirs that are to be added, in their order
	called       called
}

func (w *join) run() error {
	if !sameSaid(w.ours.rows["forgets"], w.theirs.rows["forgets"]) {
		return ErrForgotten
	}
	w.moved = map[string]int64{}
	for _, t := range tables {
		for _, r := range w.ours.rows[t.name] {
			w.moved[r.said] = r.id
		}
	}
	for _, t := range tables {
		for _, r := range w.theirs.rows[t.name] {
			if w.ours.holds(r.said) || w.readHere(r) {
				continue
			}
			w.fresh = append(w.fresh, r)
		}
	}
	slices.SortFunc(w.fresh, func(a, b *kin) int { return int(a.id - b.id) })
	if len(w.fresh) == 0 {
		return nil
	}
	w.called = calledIn(w.ours, w.theirs)
	disputes, sighted := w.disputes(), w.sighted()
	for _, r := range w.fresh {
		if err := w.add(r); err != nil {
			return err
		}
	}
	at := stampOf(w.j.at)
	for _, d := range disputes {
		id, err := w.j.add(`INSERT INTO disputes (id, kind, subject, ours, theirs, at_utc, at_offset_s) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
			string(d.Kind), d.Subject, d.Ours, d.Theirs, at.utc, at.offset)
		if err != nil {
			return err
		}
		d.ID, d.At = id, w.j.at
		w.done.Disputes = append(w.done.Disputes, d)
	}
	for _, said := range sighted {
		_, err := w.j.add(`INSERT INTO sighted (id, decision, why, at_utc, at_offset_s) VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT (decision) DO NOTHING`, w.moved[said], "shown to the same person in another copy of the race", at.utc, at.offset)
		if err != nil {
			return err
		}
		w.done.Sighted++
	}
	return w.renamed()
}

// renamed looks at the sides that have ever had more than one number, in either copy: what was typed and shown under two
// numbers, in one of the copies, may be one ink as the other knows it.
func (w *join) renamed() error {
	for _, ink := range slices.SortedFunc(maps.Keys(w.called.cards), func(a, b inkAt) int {
		return cmp.Or(strings.Compare(a.photo, b.photo), int(a.part-b.part), strings.Compare(a.side, b.side))
	}) {
		cards := w.called.cards[ink]
		for _, card := range cards {
			if len(cards) < 2 {
				continue
			}
			seen, err := w.j.seenElsewhere(ink.photo, int(ink.part), card)
			if err != nil {
				return err
			}
			w.done.Sighted += seen
		}
	}
	return nil
}

func sameSaid(a, b []*kin) bool {
	return slices.EqualFunc(a, b, func(x, y *kin) bool { return x.said == y.said })
}

// readHere reports whether r is a machine's reading of a photo that this copy has read by itself since the
// two parted. Such a reading stays; decisions hang on the paper, not on a reading.
func (w *join) readHere(r *kin) bool {
	switch r.table {
	case "outcomes", "sheets", "reads", "readings", "further_refusals", "ties":
	default:
		return false
	}
	for _, photo := range r.photos {
		newest := w.ours.newest[photo]
		if newest == nil {
			continue
		}
		theirs := w.theirs.newest[photo]
		known := theirs != nil && w.ours.holds(theirs.said) // they have nothing newer
		own := !w.theirs.holds(newest.said)                 // we have something of our own
		refused := own && newest.row["accepted"] == int64(0) && theirs != nil && theirs.row["accepted"] == int64(1)
		if known || own && !refused {
			return true
		}
	}
	return false
}

// add puts one of their rows in, under the next number, with what it refers to by the numbers here.
func (w *join) add(r *kin) error {
	var columns, marks []string
	var values []any
	for _, c := range r.columns {
		if c == "id" {
			continue
		}
		v := r.row[c]
		if to, ok := refers[r.table][c]; ok {
			v = w.number(r, c, to)
		}
		if name, ok := v.(string); ok && (c == "file" || c == "page_file") && w.names[name] != "" {
			v = w.names[name]
		}
		columns, values = append(columns, c), append(values, v)
		marks = append(marks, fmt.Sprintf("$%d", len(columns)+1))
	}
	id, err := w.j.add(`INSERT INTO `+r.table+` (id, `+strings.Join(columns, ", ")+`) VALUES ($1, `+strings.Join(marks, ", ")+`)`, values...)
	if err != nil {
		return err
	}
	w.moved[r.said] = id
	switch r.table {
	case "photos":
		w.done.Photos++
	case "decisions":
		w.done.Decisions++
	case "bindings", "answers", "gap_reasons", "paper_cards", "undone", "heard":
		w.done.Records++
	}
	return nil
}

// elsewhere stands for a sheet that this copy doesn't hold: not 0, which means typed from the paper.
const elsewhere = -1

// OfOtherForm stands for a sheet of a photo that this copy has read as another form: the same row is another one there.
const OfOtherForm = -2

// number is the number here of what a column of theirs refers to.
func (w *join) number(r *kin, column, table string) int64 {
	old, _ := r.row[column].(int64)
	if old == 0 || old == OfOtherForm {
		return old
	}
	to := w.theirs.byID[table][old]
	if to == nil {
		return elsewhere
	}
	if id, ok := w.moved[to.said]; ok {
		return id
	}
	// Their reading of a photo that we have read ourselves: what lies at the same place, failing that the same side of the same card,
	// if we found it.
	for _, s := range slices.Backward(w.ours.rows[table]) {
		if s.side != "" && s.text("photo") == to.text("photo") && s.text("side") == to.text("side") && s.text("layout") == to.text("layout") && liesAs(s, to) {
			return s.id
		}
	}
	for _, s := range slices.Backward(w.ours.rows[table]) {
		if s.side != "" && s.side == to.side && !liesElsewhere(s, to) {
			return sameForm(s, to)
		}
	}
	// The same ink, taken for another card.
	for _, s := range slices.Backward(w.ours.rows[table]) {
		if s.side != "" && s.text("photo") == to.text("photo") && s.number("part") == to.number("part") && s.text("side") == to.text("side") && !liesElsewhere(s, to) {
			return sameForm(s, to)
		}
	}
	return elsewhere
}

// sameForm is the number of a sheet here, unless it was read as another form than the one there.
func sameForm(here, there *kin) int64 {
	if here.text("layout") != there.text("layout") {
		return OfOtherForm
	}
	return here.id
}

// sighted lists the entries, by what they say, whose typist the other copy had shown the text to, or who
// took an entry about the same reading back there: under whatever name its ink has in either copy. Nor is anything unseen
// that somebody typed on a course of which they wrote down or read a call in the other copy.
func (w *join) sighted() []string {
	var all []string
	for _, two := range [][2]*snapshot{{w.ours, w.theirs}, {w.theirs, w.ours}} {
		typed, shown := two[0], two[1]
		told := map[string]bool{}
		for _, r := range shown.rows["served"] {
			if !typed.holds(r.said) && r.row["reveals"] == int64(1) {
				if run, course, ok := parseCallKey(r.text("reading")); ok {
					told[look.Person(r.text("person"))+"\x00"+ofCourse(run, course)] = true
				}
				for _, key := range w.called.names(r.text("reading")) {
					told[look.Person(r.text("person"))+"\x00"+key] = true
				}
			}
		}
		for _, r := range shown.rows["undone"] {
			if d := shown.byID["decisions"][r.number("decision")]; d != nil && !typed.holds(r.said) {
				for _, key := range w.called.names(d.text("reading")) {
					told[look.Person(r.text("person"))+"\x00"+key] = true
				}
			}
		}
		for _, r := range shown.rows["heard"] {
			h := HeardEntry{Bib: sheetmodel.Bib{Number: r.text("bib")}, Gate: r.text("gate"), Words: r.text("words"), Strikes: r.number("strikes")}
			if !typed.holds(r.said) && h.NamesBib() {
				told[look.Person(r.text("person"))+"\x00"+ofCourse(int(r.number("run")), r.text("course"))] = true
			}
		}
		for _, r := range typed.rows["decisions"] {
			by := look.Person(r.text("person")) + "\x00"
			if (r.row["blind"] == int64(1) || r.row["read_back"] == int64(1)) && !shown.holds(r.said) && (told[by+r.text("reading")] || told[by+AllReadings] || calledAt(told, by, r.text("reading"))) {
				all = append(all, r.said)
			}
		}
	}
	return all
}

func ofCourse(run int, course string) string { return fmt.Sprintf("course %d %s", run, course) }

// calledAt reports whether somebody wrote down, or read, a call where a bib may stand. A spare may have been used anywhere.
func calledAt(told map[string]bool, by, reading string) bool {
	card, _, field, err := ParseKey(reading)
	if err != nil || !ofBib(field) {
		return false
	}
	if card.Run > 0 {
		return told[by+ofCourse(card.Run, card.Course)]
	}
	for key := range told {
		if strings.HasPrefix(key, by+"course ") {
			return true
		}
	}
	return false
}

// snapshot reads a store as it is at one moment.
func (s *Store) snapshot(ctx context.Context) (*snapshot, error) {
	tx, err := s.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, fmt.Errorf("store: %w", err)
	}
	defer tx.Rollback() //nolint:errcheck // only read
	return snapshotOf(ctx, tx)
}
