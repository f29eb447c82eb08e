package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"gatefold/review/look"
	"gatefold/sheetmodel"
)

// Entry is what a person asks the store to keep about one reading.
type Entry struct {
	Reading  string // key
	Text     string // what was typed; empty when set aside or where nothing is written
	Basis    sheetmodel.Basis
	ReadBack bool   // the judge read it aloud or, asked, named it unprompted
	By       string // the person at the laptop
	Session  string // the browser's session; one session serves one person
	Sheet    int64  // the sheet whose ink was shown; 0: typed from the paper
	Note     string
	// Head is that of the store when the row was looked at, to keep what was said; 0: nobody looked. A reading that was
	// set aside since then isn't made to stand again by it: ErrSetAside.
	Head int64
}

// ErrSetAside is returned for an entry about a reading that somebody has set aside since it was looked at.
var ErrSetAside = errors.New("set aside meanwhile")

// Decision is a kept Entry. Blind is the store's own finding, not the page's claim.
type Decision struct {
	sheetmodel.Decision
	Session string `json:"session"`
	Sheet   int64  `json:"sheet,omitempty"`
	Undone  *Undo  `json:"undone,omitempty"`
	Seen    string `json:"-"` // what its copy of the race held then, see Sights; empty: nobody kept that
	// Sighted: it was typed unseen, or named unprompted, as far as its own copy of the race knew, and another copy had shown the text to the
	// same person. It is no look, and speaks against the ink as before.
	Sighted bool `json:"-"`
}

// Undo says who took a decision back. The decision stays in the log.
type Undo struct {
	By string    `json:"by"`
	At time.Time `json:"at"`
}

// Served is one thing that is about to be sent to a person. It is recorded before it is sent.
type Served struct {
	Session  string
	Person   string
	Readings []string // keys; a Reveals with the key AllReadings gives everything away
	Sheet    int64
	// Reveals: it holds the machine's text, another person's text, or anything that follows from
	// either, such as a finding or a draft line. False: only the ink or an empty form.
	Reveals bool
	What    string // the page or event, for the log
	At      time.Time
}

// AllReadings stands for every reading in a Served.
const AllReadings = "*"

// Serve records what is about to be sent. The caller sends only after it returned nil. What the same
// session was sent before in the same way is not recorded again.
func (s *Store) Serve(ctx context.Context, all ...Served) error {
	type line struct {
		session, person, reading string
		sheet                    int64
		reveals                  int
		what                     string
	}
	var fresh []line
	for _, v := range all {
		if v.Session == "" {
			return errors.New("served: no session named")
		}
		for _, key := range v.Readings {
			one := line{v.Session, v.Person, key, v.Sheet, flag(v.Reveals), v.What}
			same := func(l line) bool { l.what = one.what; return l == one }
			if slices.ContainsFunc(fresh, same) {
				continue
			}
			var n int
			err := s.db.QueryRowContext(ctx, `SELECT COUNT(*) FROM served WHERE session = $1 AND person = $2 AND reading = $3 AND sheet = $4 AND reveals = $5`,
				one.session, one.person, one.reading, one.sheet, one.reveals).Scan(&n)
			if err != nil {
				return fmt.Errorf("served: %w", err)
			}
			if n == 0 {
				fresh = append(fresh, one)
			}
		}
	}
	if len(fresh) == 0 {
		return nil
	}
	return s.append(ctx, func(j *journal) error {
		at := stampOf(j.at)
		for _, l := range fresh {
			_, err := j.add(`INSERT INTO served (id, session, person, reading, sheet, reveals, what, at_utc, at_offset_s)
				VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
				l.session, l.person, l.reading, l.sheet, l.reveals, l.what, at.utc, at.offset)
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// ServedLog returns everything that was sent, in order, one reading each.
func (s *Store) ServedLog(ctx context.Context) ([]Served, error) {
	return collect(ctx, s.db, func(scan func(...any) error) (Served, error) {
		v := Served{Readings: make([]string, 1)}
		var reveals int
		var at stamp
		err := scan(&v.Session, &v.Person, &v.Readings[0], &v.Sheet, &reveals, &v.What, &at.utc, &at.offset)
		if err == nil {
			v.Reveals = reveals != 0
			v.At, err = at.time()
		}
		return v, err
	}, `SELECT session, person, reading, sheet, reveals, what, at_utc, at_offset_s FROM served ORDER BY id`)
}

// Settle keeps entries, all or nothing, and returns them as decisions in the same order.
//
// An entry is blind only if the log of what was served proves it: this session was shown the ink of
// that sheet or the empty form, and neither it nor this person was ever sent anything that reveals the
// reading, has typed it before, or has undone it, under whatever name its ink was known. An entry that repeats the newest standing decision
// word for word adds nothing and returns that decision, so a form sent twice is no double.
func (s *Store) Settle(ctx context.Context, entries ...Entry) ([]Decision, error) {
	decisions := make([]Decision, len(entries))
	err := s.append(ctx, func(j *journal) error {
		for i, e := range entries {
			d, err := settle(j, e)
			if err != nil {
				return err
			}
			decisions[i] = d
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return decisions, nil
}

func settle(j *journal, e Entry) (Decision, error) {
	if _, _, _, err := ParseKey(e.Reading); err != nil {
		return Decision{}, err
	}
	if e.By == "" || e.Session == "" {
		return Decision{}, fmt.Errorf("reading %s: no person or session named; enter a name first", e.Reading)
	}
	switch e.Basis {
	case sheetmodel.BasisOnPaper, sheetmodel.BasisJudgeAsked:
		if e.Text == "" {
			return Decision{}, fmt.Errorf("reading %s: nothing was typed; type what is written, or set it aside", e.Reading)
		}
	case sheetmodel.BasisSetAside:
		e.Text = ""
		if e.Note == "" {
			return Decision{}, fmt.Errorf("reading %s: set aside without a reason; write one", e.Reading)
		}
	case sheetmodel.BasisNoWriting:
		e.Text, e.ReadBack = "", false
	default:
		return Decision{}, fmt.Errorf("reading %s: basis %q is none of as-on-the-paper, judge-asked, set-aside, no-writing", e.Reading, e.Basis)
	}
	standing, ok, err := repeated(j, e)
	if err != nil || ok {
		return standing, err
	}
	if e.Head > 0 && e.Basis != sheetmodel.BasisSetAside && standing.Basis == sheetmodel.BasisSetAside && standing.ID > e.Head {
		return Decision{}, fmt.Errorf("reading %s: %w", e.Reading, ErrSetAside)
	}
	blind := false
	if e.Basis == sheetmodel.BasisOnPaper || e.Basis == sheetmodel.BasisNoWriting {
		var err error
		if blind, err = isBlind(j, e); err != nil {
			return Decision{}, err
		}
	}
	if e.Basis == sheetmodel.BasisJudgeAsked && e.ReadBack {
		// Somebody who was shown the text may have named it: then the judge has only nodded to it. So may somebody
		// who typed another word of the judge's before: they were told that it doesn't fit.
		told, err1 := wasTold(j, e)
		tried, err2 := j.didAny(e, `SELECT session, person FROM decisions WHERE reading = $1 AND text <> $2 AND (read_back = 1 OR basis = $3)`,
			e.Text, string(sheetmodel.BasisJudgeAsked))
		gone, err3 := j.mayHaveTyped(e)
		if err := errors.Join(err1, err2, err3); err != nil {
			return Decision{}, err
		}
		e.ReadBack = !told && !tried && !gone
	}
	at := stampOf(j.at)
	seen, err := j.seen()
	if err != nil {
		return Decision{}, err
	}
	id, err := j.add(`INSERT INTO decisions (id, reading, text, basis, blind, read_back, person, session, sheet, note, at_utc, at_offset_s, seen)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`,
		e.Reading, e.Text, string(e.Basis), flag(blind), flag(e.ReadBack), e.By, e.Session, e.Sheet, e.Note, at.utc, at.offset, seen)
	if err != nil {
		return Decision{}, err
	}
	return Decision{Decision: sheetmodel.Decision{
		ID: id, Reading: e.Reading, Text: e.Text, Basis: e.Basis, Blind: blind, ReadBack: e.ReadBack, By: e.By, At: j.at, Note: e.Note,
	}, Session: e.Session, Sheet: e.Sheet, Seen: seen}, nil
}

// repeated finds the newest decision about the reading and says whether e is the same once more.
func repeated(j *journal, e Entry) (Decision, bool, error) {
	rows, err := j.tx.QueryContext(j.ctx, selectDecisions+` WHERE d.reading = $1 ORDER BY d.id DESC`, e.Reading)
	if err != nil {
		return Decision{}, false, fmt.Errorf("store: %w", err)
	}
	defer rows.Close() //nolint:errcheck // rows.Err below tells of any fault of reading
	for rows.Next() {
		d, err := scanDecision(rows.Scan)
		if err != nil {
			return Decision{}, false, fmt.Errorf("store: %w", err)
		}
		if d.Undone != nil {
			continue
		}
		same := d.Text == e.Text && d.Basis == e.Basis && d.ReadBack == e.ReadBack && look.Person(d.By) == look.Person(e.By) &&
			d.Session == e.Session && d.Sheet == e.Sheet && d.Note == e.Note
		if !same || !e.ReadBack {
			return d, same, nil
		}
		// The judge is asked again where another side or photo of the card came in, or a row was added anew: said once more, it is said of that too.
		if err := rows.Close(); err != nil { // before the next query
			return Decision{}, false, fmt.Errorf("store: %w", err)
		}
		more, err := j.photographedSince(e.Reading, d.ID)
		return d, !more, err
	}
	return Decision{}, false, rows.Err()
}

// photographedSince reports whether a side of a reading's card was read since a number of the log, or a row was added to it by hand, perhaps in
// another box than before.
func (j *journal) photographedSince(reading string, id int64) (bool, error) {
	card, _, _, err := ParseKey(reading)
	if err != nil {
		return false, fmt.Errorf("store: %w", err)
	}
	var n int
	if err = j.tx.QueryRowContext(j.ctx, `SELECT COUNT(*) FROM sheets WHERE run = $1 AND course = $2 AND card = $3 AND id > $4`,
		card.Run, card.Course, card.Card, id).Scan(&n); err != nil {
		return false, fmt.Errorf("store: %w", err)
	}
	var added int
	if err = j.tx.QueryRowContext(j.ctx, `SELECT COUNT(*) FROM answers WHERE question LIKE $1 AND id > $2`, AddedRow+"/"+CardName(card)+"/%", id).Scan(&added); err != nil {
		return false, fmt.Errorf("store: %w", err)
	}
	return n+added > 0, nil
}

// wasTold reports whether the person or the session of e was sent anything that reveals the reading.
func wasTold(j *journal, e Entry) (bool, error) {
	return j.didAny(e, `SELECT session, person FROM served WHERE (reading = $1 OR reading = $2) AND reveals = 1`, AllReadings)
}

// isBlind looks for the proof that e was typed before anything gave its text away.
func isBlind(j *journal, e Entry) (bool, error) {
	var shown int
	err := j.tx.QueryRowContext(j.ctx, `SELECT COUNT(*) FROM served WHERE session = $1 AND reading = $2 AND sheet = $3 AND reveals = 0`,
		e.Session, e.Reading, e.Sheet).Scan(&shown)
	if err != nil {
		return false, fmt.Errorf("store: %w", err)
	}
	told, err1 := wasTold(j, e)
	before, err2 := j.didAny(e, `SELECT session, person FROM decisions WHERE reading = $1`)
	undone, err3 := j.didAny(e, `SELECT u.session, u.person FROM undone u JOIN decisions d ON d.id = u.decision WHERE d.reading = $1`)
	return shown > 0 && !told && !before && !undone, errors.Join(err1, err2, err3)
}

// didAny is did for a query whose first argument is a reading: under any name that its ink was ever known by.
func (j *journal) didAny(e Entry, query string, more ...any) (bool, error) {
	keys, err := j.names(e.Reading)
	if err != nil {
		return false, err
	}
	for _, key := range keys {
		if did, err := j.did(e, query, append([]any{key}, more...)...); did || err != nil {
			return did, err
		}
	}
	return false, nil
}

// did reports whether one of the sessions and persons that query returns is the session of e, or the
// person of e in any spelling, or somebody forgotten who may be that person. Names are made one here, not in the database: what older programs kept
// as it was typed counts the same.
func (j *journal) did(e Entry, query string, args ...any) (bool, error) {
	rows, err := j.tx.QueryContext(j.ctx, query, args...)
	if err != nil {
		return false, fmt.Errorf("store: %w", err)
	}
	defer rows.Close() //nolint:errcheck // rows.Err below tells of any fault of reading
	by, forgotten := look.Person(e.By), false
	for rows.Next() {
		var session, person string
		if err = rows.Scan(&session, &person); err != nil {
			return false, fmt.Errorf("store: %w", err)
		}
		if session == e.Session || look.Person(person) == by {
			return true, nil
		}
		forgotten = forgotten || forgottenName.MatchString(person)
	}
	if err = rows.Err(); err != nil {
		return false, fmt.Errorf("store: %w", err)
	}
	if err = rows.Close(); err != nil || !forgotten {
		return false, err
	}
	return j.newcomer(e.By)
}

// People returns the names of all who were sent or have typed anything, as they were first spelled, one
// spelling for each person, in the order in which they came.
func (s *Store) People(ctx context.Context) ([]string, error) {
	names, err := collect(ctx, s.db, func(scan func(...any) error) (name string, err error) {
		return name, scan(&name)
	}, `SELECT person FROM (SELECT id, person FROM served UNION ALL SELECT id, person FROM decisions) AS said
		WHERE person <> '' GROUP BY person ORDER BY MIN(id)`)
	seen := map[string]bool{}
	names = slices.DeleteFunc(names, func(name string) bool {
		again := seen[look.Person(name)]
		seen[look.Person(name)] = true
		return again
	})
	return names, err
}

// Undo takes a decision back; it stays in the log, and whoever undid it is not blind to that reading
// any more. A decision that was undone before is left as it is.
func (s *Store) Undo(ctx context.Context, decision int64, by, session string) error {
	if by == "" || session == "" {
		return fmt.Errorf("decision %d: no person or session named; enter a name first", decision)
	}
	return s.append(ctx, func(j *journal) error {
		var found, gone int
		err := errors.Join(
			j.tx.QueryRowContext(j.ctx, `SELECT COUNT(*) FROM decisions WHERE id = $1`, decision).Scan(&found),
			j.tx.QueryRowContext(j.ctx, `SELECT COUNT(*) FROM undone WHERE decision = $1`, decision).Scan(&gone))
		if err != nil {
			return fmt.Errorf("decision %d: %w", decision, err)
		}
		if found == 0 {
			return fmt.Errorf("decision %d: %w", decision, ErrNotFound)
		}
		if gone > 0 {
			return nil
		}
		at := stampOf(j.at)
		_, err = j.add(`INSERT INTO undone (id, decision, person, session, at_utc, at_offset_s) VALUES ($1, $2, $3, $4, $5, $6)`,
			decision, by, session, at.utc, at.offset)
		return err
	})
}

const selectDecisions = `SELECT d.id, d.reading, d.text, d.basis, d.blind, d.read_back, d.person, d.session, d.sheet, d.note,
	d.at_utc, d.at_offset_s, d.seen, u.person, u.at_utc, u.at_offset_s, g.id
	FROM decisions d LEFT JOIN undone u ON u.decision = d.id LEFT JOIN sighted g ON g.decision = d.id`

// Decisions returns every decision ever taken, in order, also those that were replaced or undone.
func (s *Store) Decisions(ctx context.Context) ([]Decision, error) {
	return collect(ctx, s.db, scanDecision, selectDecisions+` ORDER BY d.id`)
}

func scanDecision(scan func(...any) error) (Decision, error) {
	var d Decision
	var at, undone stamp
	var blind, readBack int
	var by *string
	var sighted *int64
	err := scan(&d.ID, &d.Reading, &d.Text, &d.Basis, &blind, &readBack, &d.By, &d.Session, &d.Sheet, &d.Note,
		&at.utc, &at.offset, &d.Seen, &by, &undone.utc, &undone.offset, &sighted)
	if err != nil {
		return d, err
	}
	d.Blind, d.ReadBack = blind != 0, readBack != 0
	if sighted != nil { // another copy of the race has shown its text to the same person
		d.Sighted = d.Blind || d.ReadBack
		d.Blind = false
		d.ReadBack = d.ReadBack && d.Basis == sheetmodel.BasisOnPaper // which counts only if typed unseen
	}
	if d.At, err = at.time(); err == nil && by != nil {
		d.Undone = &Undo{By: *by}
		d.Undone.At, err = undone.time()
	}
	return d, err
}
