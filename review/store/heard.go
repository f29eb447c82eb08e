package store

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"time"

	"gatefold/sheetmodel"
)

// HeardEntry is one line of the log of what came by radio or by word of mouth. It is a reason to ask a
// judge and nothing else. Bib and gate may be empty where the words name none.
type HeardEntry struct {
	ID     int64          `json:"id"`
	Run    int            `json:"run"`
	Course string         `json:"course"`
	Clock  string         `json:"clock"` // HH:MM or HH:MM:SS, official time
	From   string         `json:"from"`  // whose voice it was
	Bib    sheetmodel.Bib `json:"bib"`
	Gate   string         `json:"gate"`
	Words  string         `json:"words"`
	// Strikes is the id of an earlier line that was written by mistake; this line then says only that, and
	// why in Words. 0: it strikes none.
	Strikes int64     `json:"strikes,omitempty"`
	By      string    `json:"by"`
	At      time.Time `json:"at"`
}

// NamesBib reports whether a line tells whoever wrote it a bib: in its own field, or by a number in its words.
func (h HeardEntry) NamesBib() bool {
	return h.Strikes == 0 && (h.Bib.Number != "" || numberIn(h.Words, h.Gate))
}

// aNumber is a number with the word before it and the signs around it.
var aNumber = regexp.MustCompile(`(\pL*)[\s.#]*?([:.]?)([0-9]+)((?:[:.][0-9]+)*)`)

// notBibs are the words after which a number is no bib.
var notBibs = map[string]bool{"gate": true, "gates": true, "card": true, "row": true, "run": true, "panel": true}

// numberIn reports whether words hold a number that may be a bib: no time of day, and none that is said to be a gate's.
func numberIn(words, gate string) bool {
	for _, m := range aNumber.FindAllStringSubmatch(words, -1) {
		clock := m[2] == ":" || m[4] != ""
		if !clock && len(m[3]) <= 4 && m[3] != gate && !notBibs[strings.ToLower(m[1])] {
			return true
		}
	}
	return false
}

// Hear adds a line to the log; its ID and At are the store's. Nothing in the log is changed: a line that was
// written by mistake is struck by a later one. The error wraps ErrNotFound if there is no line to strike.
func (s *Store) Hear(ctx context.Context, h HeardEntry) error {
	switch {
	case h.By == "":
		return fmt.Errorf("log of what was heard: needs the person who writes it down; enter a name first")
	case h.Strikes == 0 && (h.Run == 0 || h.Course == "" || h.Clock == ""):
		return fmt.Errorf("log of what was heard: needs run, course and time")
	case h.Strikes == 0 && h.Words == "" && (h.Bib.Number == "" || h.Gate == ""):
		return fmt.Errorf("log of what was heard: nothing was written; needs bib and gate, or the words")
	}
	return s.append(ctx, func(j *journal) error {
		if h.Strikes != 0 {
			err := j.tx.QueryRowContext(j.ctx, `SELECT run, course FROM heard WHERE id = $1 AND strikes = 0`, h.Strikes).Scan(&h.Run, &h.Course)
			if err != nil {
				return fmt.Errorf("log of what was heard, line %d: %w", h.Strikes, ErrNotFound)
			}
		}
		at := stampOf(j.at)
		_, err := j.add(`INSERT INTO heard (id, run, course, clock, source, grp, bib, gate, words, strikes, person, at_utc, at_offset_s)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`,
			h.Run, h.Course, h.Clock, h.From, h.Bib.Group, h.Bib.Number, h.Gate, h.Words, h.Strikes, h.By, at.utc, at.offset)
		return err
	})
}

// HeardLog returns the whole log in the order in which it was written, also what was struck.
func (s *Store) HeardLog(ctx context.Context) ([]HeardEntry, error) {
	return collect(ctx, s.db, func(scan func(...any) error) (HeardEntry, error) {
		var h HeardEntry
		var at stamp
		err := scan(&h.ID, &h.Run, &h.Course, &h.Clock, &h.From, &h.Bib.Group, &h.Bib.Number, &h.Gate, &h.Words, &h.Strikes, &h.By, &at.utc, &at.offset)
		if err == nil {
			h.At, err = at.time()
		}
		return h, err
	}, `SELECT id, run, course, clock, source, grp, bib, gate, words, strikes, person, at_utc, at_offset_s FROM heard ORDER BY id`)
}
