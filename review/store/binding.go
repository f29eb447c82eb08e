package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"gatefold/sheetmodel"
)

// Binding says what a card was used for, confirmed by a person. A later one replaces an earlier one.
type Binding struct {
	Card   sheetmodel.CardKey `json:"card"`   // as printed; run 0 for a spare
	Run    int                `json:"run"`    // it was used in
	Course string             `json:"course"` // it was used on
	Gates  []string           `json:"gates"`  // labels from the start down
	Judge  string             `json:"judge,omitempty"`
	Group  string             `json:"group,omitempty"`
	Source string             `json:"source"` // "placing list" or "header"
	By     string             `json:"by"`
	At     time.Time          `json:"at"`
	Paper  string             `json:"paper,omitempty"` // whose header it was, see PaperName; empty: not known
	ID     int64              `json:"-"`
}

// Used is the card as the rules know it: by the run and course it was used in.
func (b Binding) Used() sheetmodel.CardKey {
	return sheetmodel.CardKey{Run: b.Run, Course: b.Course, Card: b.Card.Card}
}

// TakenError says that a card can't be bound to a run and course, for another one has its number there.
type TakenError struct {
	Card sheetmodel.CardKey // as printed
	Used sheetmodel.CardKey // as which it was to be used
}

// Error says what to do in the words of whoever binds cards.
func (e *TakenError) Error() string {
	name := fmt.Sprintf("card %d", e.Card.Card)
	if e.Card.Run == 0 {
		name = "spare " + name
	}
	return fmt.Sprintf("%s can't be bound to %s, run %d: another card %d is there, and their rows would be mixed; give that place another number in race.yaml, or bind the card where it was used",
		name, e.Used.Course, e.Used.Run, e.Used.Card)
}

// Answer is a person's answer to a question of the rules or of the stack.
type Answer struct {
	Question string    `json:"question"` // its key
	Value    string    `json:"value"`
	By       string    `json:"by"`
	At       time.Time `json:"at"`
	Note     string    `json:"note,omitempty"`
	Paper    string    `json:"paper,omitempty"` // at which it was said, see PaperName, joined by "+"; empty: not known, or about none
	// View is what was in view when it was given, see sheetmodel.Question; it counts while that is the same. Empty: not known.
	View string `json:"view,omitempty"`
	ID   int64  `json:"-"`
	Seen string `json:"-"` // what its copy of the race held then, see Sights; the store gives it; empty: nobody kept that
}

// GapReason closes the gap of a missing card.
type GapReason struct {
	ID     int64              `json:"-"` // numbers run on through all that is kept; the store gives it
	Card   sheetmodel.CardKey `json:"card"`
	Reason string             `json:"reason"`
	By     string             `json:"by"`
	At     time.Time          `json:"at"`
	Seen   string             `json:"-"` // as of an Answer
}

// PaperCard says that a card is typed from the paper, without a photo.
type PaperCard struct {
	Card sheetmodel.CardKey `json:"card"`
	Rows int                `json:"rows"` // rows with ink, as counted by the person
	By   string             `json:"by"`
	At   time.Time          `json:"at"`
}

// Bind keeps a binding; its At is the store's clock. The error is a *TakenError if another card of
// which the store has a photo, rows or a binding is used there under the same number; cards that are
// only expected are not the store's to know.
func (s *Store) Bind(ctx context.Context, b Binding) error {
	if b.Run == 0 || b.By == "" || b.Source == "" {
		return fmt.Errorf("card %s: a binding needs run, source and the person who confirmed it", CardName(b.Card))
	}
	gates, err := json.Marshal(b.Gates)
	if err != nil {
		return fmt.Errorf("card %s: %w", CardName(b.Card), err)
	}
	return s.append(ctx, func(j *journal) error {
		if err := j.free(b); err != nil {
			return err
		}
		at := stampOf(j.at)
		_, err = j.add(`INSERT INTO bindings (id, run, course, card, used_run, used_course, gates, judge, grp, source, person, at_utc, at_offset_s)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`,
			b.Card.Run, b.Card.Course, b.Card.Card, b.Run, b.Course, string(gates), b.Judge, b.Group, withPaper(b.Source, b.Paper), b.By, at.utc, at.offset)
		return err
	})
}

// free reports, as an error, whether another card is used as what b would be used as.
func (j *journal) free(b Binding) error {
	used := b.Used()
	if used == b.Card {
		return nil
	}
	rows, err := j.tx.QueryContext(j.ctx, `SELECT run, course, used_run, used_course FROM
		(SELECT 0 AS id, run, course, card, run AS used_run, course AS used_course FROM sheets
		UNION ALL SELECT 0, run, course, card, run, course FROM paper_cards
		UNION ALL SELECT id, run, course, card, used_run, used_course FROM bindings) AS said
		WHERE card = $1 ORDER BY id`, used.Card)
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	defer rows.Close()                                  //nolint:errcheck // rows.Err below tells of any fault of reading
	last := map[sheetmodel.CardKey]sheetmodel.CardKey{} // by the card as printed: as what it is used
	for rows.Next() {
		printed, as := sheetmodel.CardKey{Card: used.Card}, sheetmodel.CardKey{Card: used.Card}
		if err = rows.Scan(&printed.Run, &printed.Course, &as.Run, &as.Course); err != nil {
			return fmt.Errorf("store: %w", err)
		}
		last[printed] = as
	}
	if err = rows.Err(); err != nil {
		return fmt.Errorf("store: %w", err)
	}
	for printed, as := range last {
		if printed != b.Card && as == used {
			return &TakenError{Card: b.Card, Used: used}
		}
	}
	return nil
}

// Bindings returns all bindings in order; for each card the last one counts.
func (s *Store) Bindings(ctx context.Context) ([]Binding, error) {
	return collect(ctx, s.db, func(scan func(...any) error) (Binding, error) {
		var b Binding
		var at stamp
		var gates string
		err := scan(&b.ID, &b.Card.Run, &b.Card.Course, &b.Card.Card, &b.Run, &b.Course, &gates, &b.Judge, &b.Group, &b.Source, &b.By, &at.utc, &at.offset)
		if err == nil {
			err = json.Unmarshal([]byte(gates), &b.Gates)
		}
		if err == nil {
			b.At, err = at.time()
		}
		b.Source, b.Paper = cutPaper(b.Source)
		return b, err
	}, `SELECT id, run, course, card, used_run, used_course, gates, judge, grp, source, person, at_utc, at_offset_s FROM bindings ORDER BY id`)
}

// Answer keeps people's answers, all of them or none; their At is the store's clock. An empty Value takes an answer back.
func (s *Store) Answer(ctx context.Context, answers ...Answer) error {
	for _, a := range answers {
		if a.Question == "" || a.By == "" {
			return errors.New("answer: needs the question's key and the person who answered")
		}
	}
	return s.append(ctx, func(j *journal) error {
		at := stampOf(j.at)
		for _, a := range answers {
			seen, err := j.seen()
			if err != nil {
				return err
			}
			if _, err := j.add(`INSERT INTO answers (id, question, answer, person, note, at_utc, at_offset_s, about, seen) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
				a.Said(), a.Value, a.By, a.Note, at.utc, at.offset, a.View, seen); err != nil {
				return err
			}
			if _, err := j.called(a); err != nil {
				return err
			}
		}
		return nil
	})
}

// Answers returns all answers in order; for each question the last one counts; where it names its Paper,
// for each question about that paper.
func (s *Store) Answers(ctx context.Context) ([]Answer, error) {
	return collect(ctx, s.db, func(scan func(...any) error) (Answer, error) {
		var a Answer
		var at stamp
		err := scan(&a.ID, &a.Question, &a.Value, &a.By, &a.Note, &at.utc, &at.offset, &a.View, &a.Seen)
		if err == nil {
			a.At, err = at.time()
		}
		a.Question, a.Paper = cutPaper(a.Question)
		return a, err
	}, `SELECT id, question, answer, person, note, at_utc, at_offset_s, about, seen FROM answers ORDER BY id`)
}

// CloseGap keeps the reason why a card is missing; its At is the store's clock. An empty Reason opens
// the gap again.
func (s *Store) CloseGap(ctx context.Context, g GapReason) error {
	if g.By == "" {
		return fmt.Errorf("card %s: needs the person who gives the reason", CardName(g.Card))
	}
	return s.append(ctx, func(j *journal) error {
		at := stampOf(j.at)
		seen, err := j.seen()
		if err != nil {
			return err
		}
		_, err = j.add(`INSERT INTO gap_reasons (id, run, course, card, reason, person, at_utc, at_offset_s, seen) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
			g.Card.Run, g.Card.Course, g.Card.Card, g.Reason, g.By, at.utc, at.offset, seen)
		return err
	})
}

// GapReasons returns all reasons in order; for each card the last one counts.
func (s *Store) GapReasons(ctx context.Context) ([]GapReason, error) {
	return collect(ctx, s.db, func(scan func(...any) error) (GapReason, error) {
		var g GapReason
		var at stamp
		err := scan(&g.ID, &g.Card.Run, &g.Card.Course, &g.Card.Card, &g.Reason, &g.By, &at.utc, &at.offset, &g.Seen)
		if err == nil {
			g.At, err = at.time()
		}
		return g, err
	}, `SELECT id, run, course, card, reason, person, at_utc, at_offset_s, seen FROM gap_reasons ORDER BY id`)
}

// TypeFromPaper keeps that a card has no photo and how many of its rows hold ink. Its rows are then
// settled under the front's keys with Entry.Sheet 0.
func (s *Store) TypeFromPaper(ctx context.Context, p PaperCard) error {
	if p.By == "" || p.Rows < 0 {
		return fmt.Errorf("card %s: needs the number of rows and the person who counted them", CardName(p.Card))
	}
	return s.append(ctx, func(j *journal) error {
		at := stampOf(j.at)
		_, err := j.add(`INSERT INTO paper_cards (id, run, course, card, row_count, person, at_utc, at_offset_s) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
			p.Card.Run, p.Card.Course, p.Card.Card, p.Rows, p.By, at.utc, at.offset)
		return err
	})
}

// PaperCards returns all cards typed from the paper in order; for each card the last one counts.
func (s *Store) PaperCards(ctx context.Context) ([]PaperCard, error) {
	return collect(ctx, s.db, func(scan func(...any) error) (PaperCard, error) {
		var p PaperCard
		var at stamp
		err := scan(&p.Card.Run, &p.Card.Course, &p.Card.Card, &p.Rows, &p.By, &at.utc, &at.offset)
		if err == nil {
			p.At, err = at.time()
		}
		return p, err
	}, `SELECT run, course, card, row_count, person, at_utc, at_offset_s FROM paper_cards ORDER BY id`)
}
