package store

import (
	"context"
	"errors"
	"fmt"

	"gatefold/review/look"
	"gatefold/sheetmodel"
)

// ErrSince is returned by Redo where somebody has said something of the reading since it was taken back, or, of a word of the judge's or
// of what was typed from the paper, a side of the card was read since.
var ErrSince = errors.New("something was said of it, or its card was photographed, since")

// Redo puts decisions back that were taken back, all or none, as new ones, and returns them in the same order. They say what they
// said, of the photos that their copy of the race held when they said it, and are as blind as they were: their text was typed before
// anything was seen, and can't be changed by putting it back.
//
// Only who took a decision back puts it back, and what somebody typed only they themselves. The error is ErrSince where anything was
// said of the reading since it was made, or its card was photographed since the judge spoke or it was typed from the paper, in this copy
// of the race or in another that was joined: then it is typed anew, and what is typed after an undo is not blind.
func (s *Store) Redo(ctx context.Context, decisions []int64, by, session string) ([]Decision, error) {
	if by == "" || session == "" {
		return nil, errors.New("redo: no person or session named; enter a name first")
	}
	var again []Decision
	err := s.append(ctx, func(j *journal) error {
		again = nil
		for _, id := range decisions {
			d, err := redo(j, id, by, session)
			if err != nil {
				return err
			}
			again = append(again, d)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return again, nil
}

func redo(j *journal, id int64, by, session string) (Decision, error) {
	var found []Decision
	err := j.each(func(scan func(...any) error) error {
		d, err := scanDecision(scan)
		found = append(found, d)
		return err
	}, selectDecisions+` WHERE d.id = $1`, id)
	if err != nil {
		return Decision{}, err
	}
	if len(found) == 0 || found[0].Undone == nil {
		return Decision{}, fmt.Errorf("decision %d: %w", id, ErrNotFound)
	}
	d := found[0]
	if look.Person(d.Undone.By) != look.Person(by) || d.Basis != sheetmodel.BasisSetAside && look.Person(d.By) != look.Person(by) {
		return Decision{}, fmt.Errorf("decision %d: only who typed it and took it back puts it back", id)
	}
	if err = j.nothingSince(d); err != nil {
		return Decision{}, err
	}
	if d.Note == "" {
		d.Note = "put back as it was kept at " + d.At.Format("15:04")
	}
	at := stampOf(j.at)
	d.ID, err = j.add(`INSERT INTO decisions (id, reading, text, basis, blind, read_back, person, session, sheet, note, at_utc, at_offset_s, seen)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`,
		d.Reading, d.Text, string(d.Basis), flag(d.Blind), flag(d.ReadBack), by, session, d.Sheet, d.Note, at.utc, at.offset, d.Seen)
	d.By, d.Session, d.At, d.Undone = by, session, j.at, nil
	return d, err
}

// nothingSince returns ErrSince where a decision or a dispute about the same ink came after d was made. Put back, d would be the newest
// word: it would make stand again what was set aside meanwhile, and answer somebody who has read the ink otherwise since.
func (j *journal) nothingSince(d Decision) error {
	keys, err := j.names(d.Reading)
	if err != nil {
		return err
	}
	for _, key := range keys {
		var decided, disputed int
		err := errors.Join(
			j.tx.QueryRowContext(j.ctx, `SELECT COUNT(*) FROM decisions WHERE reading = $1 AND id > $2`, key, d.ID).Scan(&decided),
			j.tx.QueryRowContext(j.ctx, `SELECT COUNT(*) FROM disputes WHERE kind = $1 AND subject = $2 AND id > $3`, string(DisputeReading), key, d.ID).Scan(&disputed))
		if err != nil {
			return fmt.Errorf("store: %w", err)
		}
		if decided+disputed > 0 {
			return fmt.Errorf("decision %d: %w", d.ID, ErrSince)
		}
	}
	if !d.ReadBack && (d.Sheet != 0 || d.Basis == sheetmodel.BasisSetAside) {
		return nil // it names the photo that it was typed from
	}
	// The judge, or who typed it from the paper, spoke of the card as it was then; put back, the word would be one of the card as it is now.
	more, err := j.photographedSince(d.Reading, d.ID)
	if err == nil && more {
		err = fmt.Errorf("decision %d: %w", d.ID, ErrSince)
	}
	return err
}
