package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"

	"gatefold/sheetmodel"
)

// Removed is what stands where a name or a number stood inside a longer text.
const Removed = "(removed)"

// Forget says whose data is to be removed.
type Forget struct {
	// Match reports whether a name is the person's, in whatever spelling.
	Match func(name string) bool
	// Words are the name and the phone numbers as they may stand inside other texts.
	Words []string
	// Cards are those the person is known to have kept, as printed; what the store knows of is added.
	Cards []sheetmodel.CardKey
	By    string // who removes it
	// Try: say only what would be removed, and change nothing.
	Try bool
}

// Forgotten is what was removed from the store, or would be.
type Forgotten struct {
	Kinds []string // in words, without the data itself
	Rows  int      // that were changed
	// Photos show sides of the person's cards: what is written there stays, for originals are never changed.
	Photos []string
	Words  []string // all texts that stood for the person, to look for elsewhere
}

// Forgot is the note of a removal.
type Forgot struct {
	Kinds string    `json:"kinds"`
	By    string    `json:"by"`
	At    time.Time `json:"at"`
}

// Forget removes a person's name and phone number from all rows, and from what SQLite keeps of older ones: free
// pages are overwritten, and the log beside the database is emptied. It leaves a note of what kind of data it
// was, who removed it and when. It is the one thing that changes rows, and can't be undone.
//
// Of a judge go the name and phone read or typed from a card's header, and the name in places. Somebody who
// typed at the laptop becomes "person 1" and so on, the same one everywhere: who is whom counts for looks.
// Photos and pages stay as they are. No other program may have the store open. What the disk itself keeps of
// overwritten blocks, and copies elsewhere, are out of reach.
func (s *Store) Forget(ctx context.Context, f Forget) (Forgotten, error) {
	if f.By == "" && !f.Try {
		return Forgotten{}, errors.New("forget: needs the person who removes it")
	}
	if s.pg {
		return Forgotten{}, fmt.Errorf("forget: %s: what PostgreSQL keeps of older rows, in its log and its copies, is its server's; "+
			"pack the race, restore it on a laptop, do it there, and drop the schema on the server", AddressName)
	}
	s.write.Lock()
	defer s.write.Unlock()
	conn, err := s.db.Conn(ctx) // the settings below hold for one connection
	if err != nil {
		return Forgotten{}, fmt.Errorf("store: %w", err)
	}
	defer conn.Close() //nolint:errcheck // gives it back
	if _, err = conn.ExecContext(ctx, `PRAGMA secure_delete = ON`); err != nil {
		return Forgotten{}, fmt.Errorf("store: %w", err)
	}
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return Forgotten{}, fmt.Errorf("store: %w", err)
	}
	defer tx.Rollback() //nolint:errcheck // after a commit this is a no-op, before it the first error counts
	j := &journal{ctx: ctx, tx: tx, at: s.now()}
	w, err := newForgetter(ctx, tx, f)
	if err == nil {
		err = w.run()
	}
	if err != nil {
		return Forgotten{}, err
	}
	done := w.done()
	if f.Try {
		return done, nil
	}
	if err = tx.QueryRowContext(ctx, `SELECT last FROM sequence`).Scan(&j.last); err != nil {
		return Forgotten{}, fmt.Errorf("store: %w", err)
	}
	at := stampOf(j.at)
	if len(done.Kinds) > 0 {
		_, err = j.add(`INSERT INTO forgets (id, kinds, person, at_utc, at_offset_s) VALUES ($1, $2, $3, $4, $5)`,
			strings.Join(done.Kinds, ", "), f.By, at.utc, at.offset)
	}
	if err == nil {
		_, err = tx.ExecContext(ctx, `UPDATE sequence SET last = $1`, j.last)
	}
	if err == nil {
		err = s.step("commit")
	}
	if err == nil {
		err = tx.Commit()
	}
	if err != nil {
		return Forgotten{}, fmt.Errorf("store: %w", err)
	}
	s.mu.Lock()
	s.sheets = map[int64]Sheet{}
	s.mu.Unlock()
	return done, s.scour(ctx, conn)
}

// Note leaves the note of a removal elsewhere in the race folder, where the store itself held nothing.
func (s *Store) Note(ctx context.Context, kinds []string, by string) error {
	return s.append(ctx, func(j *journal) error {
		at := stampOf(j.at)
		_, err := j.add(`INSERT INTO forgets (id, kinds, person, at_utc, at_offset_s) VALUES ($1, $2, $3, $4, $5)`,
			strings.Join(kinds, ", "), by, at.utc, at.offset)
		return err
	})
}

// scour writes the whole database anew and empties the log, so that no free page holds an older row.
func (s *Store) scour(ctx context.Context, conn *sql.Conn) error {
	for _, do := range []string{`PRAGMA wal_checkpoint(TRUNCATE)`, `VACUUM`, `PRAGMA wal_checkpoint(TRUNCATE)`} {
		var busy, log, moved int
		row := conn.QueryRowContext(ctx, do)
		err := row.Scan(&busy, &log, &moved)
		if errors.Is(err, sql.ErrNoRows) {
			err = nil // VACUUM says nothing
		}
		if err == nil && busy != 0 {
			err = errors.New("another program has the race open; close it and do this again")
		}
		if err != nil {
			return fmt.Errorf("%s: the rows are changed, but older copies of them may still stand in the file: %w", s.path(FileName), err)
		}
	}
	return nil
}

// Forgets returns the notes of all removals, in order.
func (s *Store) Forgets(ctx context.Context) ([]Forgot, error) {
	return collect(ctx, s.db, func(scan func(...any) error) (Forgot, error) {
		var f Forgot
		var at stamp
		err := scan(&f.Kinds, &f.By, &at.utc, &at.offset)
		if err == nil {
			f.At, err = at.time()
		}
		return f, err
	}, `SELECT kinds, person, at_utc, at_offset_s FROM forgets ORDER BY id`)
}

// forgetter goes through all rows.
type forgetter struct {
	Forget
	ctx    context.Context
	tx     *sql.Tx
	all    *snapshot
	cards  map[sheetmodel.CardKey]bool
	words  map[string]bool
	find   *regexp.Regexp
	alias  string // of somebody who typed
	kinds  map[string]bool
	rows   int
	photos map[string]bool
}

// The kinds of data, in words.
const (
	kindJudge  = "a judge's name"
	kindPhone  = "a phone number"
	kindTypist = "the name of somebody who worked at the laptop"
	kindText   = "a name or number inside a remark"
)

func newForgetter(ctx context.Context, tx *sql.Tx, f Forget) (*forgetter, error) {
	all, err := snapshotOf(ctx, tx)
	w := &forgetter{
		Forget: f, ctx: ctx, tx: tx, all: all, cards: map[sheetmodel.CardKey]bool{}, words: map[string]bool{}, kinds: map[string]bool{}, photos: map[string]bool{},
	}
	return w, err
}

// personal says of which kind a header field is, by its key; empty: it names nobody.
func personal(key string) (sheetmodel.CardKey, string) {
	card, _, field, err := ParseKey(key)
	if err != nil {
		return card, ""
	}
	switch sheetmodel.Part(field[strings.LastIndexByte(field, '.')+1:]) {
	case sheetmodel.PartJudge:
		return card, kindJudge
	case sheetmodel.PartPhone:
		return card, kindPhone
	default:
		return card, ""
	}
}

// word notes a text that stands for the person, to be taken out of remarks. What is as short as a bib isn't:
// a number typed by mistake must not take other numbers along.
func (w *forgetter) word(text string) {
	if text = strings.Join(strings.Fields(text), " "); Telling(text) {
		w.words[text] = true
	}
}

// Telling reports whether a text is long enough to stand for one person: two letters, or six digits.
func Telling(text string) bool {
	letters, digits := 0, 0
	for _, r := range text {
		switch {
		case unicode.IsLetter(r):
			letters++
		case unicode.IsDigit(r):
			digits++
		}
	}
	return digits >= 6 || letters >= 2 && digits < letters
}

func (w *forgetter) run() error {
	for _, c := range w.Cards {
		w.cards[c] = true
	}
	for _, t := range w.Words {
		w.word(t)
	}
	w.look()
	w.pattern()
	steps := []func() error{w.judges, w.headers, w.typists, w.remarks}
	for _, do := range steps {
		if err := do(); err != nil {
			return err
		}
	}
	for _, r := range w.all.rows["sheets"] {
		if w.cards[cardKey(r)] {
			w.photos[r.text("photo")] = true
		}
	}
	return nil
}

func cardKey(r *kin) sheetmodel.CardKey {
	return sheetmodel.CardKey{Run: int(r.number("run")), Course: r.text("course"), Card: int(r.number("card"))}
}

// look finds the person's cards, and the texts that stand on them.
func (w *forgetter) look() {
	for _, r := range w.all.rows["bindings"] {
		if w.Match(r.text("judge")) {
			w.cards[cardKey(r)] = true
		}
	}
	for _, table := range []string{"decisions", "readings"} {
		for _, r := range w.all.rows[table] {
			if card, kind := personal(r.text("reading")); kind == kindJudge && w.Match(r.text("text")) {
				w.cards[card] = true
			}
		}
	}
	for _, r := range w.all.rows["decisions"] { // what a person typed is a number; what a machine read may be anything
		if card, kind := personal(r.text("reading")); kind != "" && w.cards[card] {
			w.word(r.text("text"))
		}
	}
}

func (w *forgetter) pattern() {
	if len(w.words) == 0 {
		return
	}
	w.find = WordPattern(slices.Collect(maps.Keys(w.words)))
}

// WordPattern finds any of the words in a text, whole, in any case and with any spaces.
func WordPattern(words []string) *regexp.Regexp {
	words = slices.Clone(words)
	slices.SortFunc(words, func(a, b string) int { return len(b) - len(a) })
	var all []string
	for _, t := range words {
		var parts []string
		for _, p := range strings.Fields(t) {
			parts = append(parts, regexp.QuoteMeta(p))
		}
		all = append(all, strings.Join(parts, `\s+`))
	}
	return regexp.MustCompile(`(?i)(^|[^\p{L}\p{N}])(?:` + strings.Join(all, "|") + `)($|[^\p{L}\p{N}])`)
}

// scrub takes the words out of a text.
func (w *forgetter) scrub(text string) string {
	if w.find == nil {
		return text
	}
	for {
		next := w.find.ReplaceAllString(text, "${1}"+Removed+"${2}")
		if next == text { // neighbours share the sign between them, so once may not do
			return text
		}
		text = next
	}
}

// set changes one column of one row.
func (w *forgetter) set(r *kin, column string, value any, kind string) error {
	if r.row[column] == value {
		return nil
	}
	r.row[column] = value
	w.kinds[kind] = true
	w.rows++
	_, err := w.tx.ExecContext(w.ctx, `UPDATE `+r.table+` SET `+column+` = $1 WHERE id = $2`, value, r.id)
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	return nil
}

// judges empties places.
func (w *forgetter) judges() error {
	for _, r := range w.all.rows["bindings"] {
		if !w.Match(r.text("judge")) {
			continue
		}
		if err := w.set(r, "judge", "", kindJudge); err != nil {
			return err
		}
	}
	return nil
}

// headers empties what was read and typed of the headers of the person's cards.
func (w *forgetter) headers() error {
	for _, table := range []string{"decisions", "readings"} {
		for _, r := range w.all.rows[table] {
			card, kind := personal(r.text("reading"))
			if kind == "" || !w.cards[card] {
				continue
			}
			if err := w.set(r, "text", "", kind); err != nil {
				return err
			}
		}
	}
	for _, r := range w.all.rows["reads"] {
		sheet := w.all.byID["sheets"][r.number("sheet")]
		if sheet == nil || !w.cards[cardKey(sheet)] {
			continue
		}
		var read SideRead
		if err := json.Unmarshal([]byte(r.text("body")), &read); err != nil {
			return fmt.Errorf("store: readings of sheet %d: %w", sheet.id, err)
		}
		kind := ""
		for i := range read.Reading.Header {
			h := &read.Reading.Header[i]
			_, k := personal(Key(cardKey(sheet), sheetmodel.SideName(sheet.text("side")), h.Field))
			if k == "" || h.Text == "" && len(h.Rivals) == 0 {
				continue
			}
			kind, h.Text, h.Rivals = k, "", nil
		}
		if kind == "" {
			continue
		}
		body, err := json.Marshal(read)
		if err == nil {
			err = w.set(r, "body", string(body), kind)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// typists gives the person another name wherever they entered something.
func (w *forgetter) typists() error {
	for n := 1; w.alias == ""; n++ {
		alias, taken := fmt.Sprintf("person %d", n), false
		w.eachPerson(func(r *kin) { taken = taken || r.text("person") == alias })
		if !taken {
			w.alias = alias
		}
	}
	var err error
	w.eachPerson(func(r *kin) {
		if err == nil && w.Match(r.text("person")) {
			w.word(r.text("person"))
			err = w.set(r, "person", w.alias, kindTypist)
		}
	})
	w.pattern()
	return err
}

func (w *forgetter) eachPerson(do func(*kin)) {
	for _, t := range tables {
		for _, r := range w.all.rows[t.name] {
			if _, has := r.row["person"]; has {
				do(r)
			}
		}
	}
}

// remarks takes the words out of what people wrote freely. Texts read or typed from rows are no remarks: a
// name that looks like a code must not change one.
func (w *forgetter) remarks() error {
	for table, columns := range map[string][]string{
		"photos": {"sent_name"}, "decisions": {"note"}, "served": {"what"}, "answers": {"answer", "note"}, "gap_reasons": {"reason"}, "disputes": {"ours", "theirs"}, "heard": {"source", "words"},
	} {
		for _, r := range w.all.rows[table] {
			for _, column := range columns {
				switch _, kind := personal(r.text("subject")); {
				case column == "answer" && !strings.HasPrefix(r.text(column), "{"): // one of the answers to choose from
				case table == "disputes" && r.text("kind") == string(DisputeReading) && kind == "":
				default:
					if err := w.set(r, column, w.scrub(r.text(column)), kindText); err != nil {
						return err
					}
				}
			}
		}
	}
	return nil
}

func (w *forgetter) done() Forgotten {
	return Forgotten{
		Kinds: slices.Sorted(maps.Keys(w.kinds)), Rows: w.rows,
		Photos: slices.Sorted(maps.Keys(w.photos)), Words: slices.Sorted(maps.Keys(w.words)),
	}
}
