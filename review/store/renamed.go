package store

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"gatefold/sheetmodel"
)

// A side without an identity has the name that its header or a person gives it, and may get another. The ink stays what
// it was: whoever was shown what stands there, or has typed it, knows it under every name.

// names returns the keys under which the ink of a reading was ever known, by readers and by people; key is among them.
// They are too many rather than too few where a name went from one side to another: then somebody types once more.
func (j *journal) names(key string) ([]string, error) {
	card, side, field, err := ParseKey(key)
	if err != nil {
		return nil, err
	}
	type ink struct {
		photo string // its name, or the beginning of it
		part  int
	}
	var inks []ink
	err = j.each(func(scan func(...any) error) error {
		var i ink
		err := scan(&i.photo, &i.part)
		inks = append(inks, i)
		return err
	}, `SELECT DISTINCT photo, part FROM sheets WHERE run = $1 AND course = $2 AND card = $3 AND side = $4`, card.Run, card.Course, card.Card, string(side))
	said := j.each(func(scan func(...any) error) error {
		var question string
		err := scan(&question)
		if photo, part, ok := ParseWhichCard(question); ok {
			inks = append(inks, ink{photo, part})
		}
		return err
	}, `SELECT DISTINCT question FROM answers WHERE answer = $1`, CardName(card))
	if err = errors.Join(err, said); err != nil {
		return nil, err
	}
	keys := []string{key}
	add := func(k sheetmodel.CardKey) {
		if name := Key(k, side, field); k.Card > 0 && !slices.Contains(keys, name) {
			keys = append(keys, name)
		}
	}
	for _, i := range inks {
		of := 0
		err = j.each(func(scan func(...any) error) error {
			var k sheetmodel.CardKey
			err := scan(&k.Run, &k.Course, &k.Card)
			add(k)
			of++
			return err
		}, `SELECT DISTINCT run, course, card FROM sheets WHERE photo LIKE $1 AND part = $2 AND side = $3`, i.photo+"%", i.part, string(side))
		if err == nil && of > 0 {
			err = j.each(func(scan func(...any) error) error {
				var answer string
				err := scan(&answer)
				if k, ok := ParseCardName(answer); ok {
					add(k)
				}
				return err
			}, `SELECT DISTINCT answer FROM answers WHERE question = $1`, WhichCard(i.photo, i.part))
		}
		if err != nil {
			return nil, err
		}
	}
	return keys, nil
}

// each hands out the rows of a query.
func (j *journal) each(do func(scan func(...any) error) error, query string, args ...any) error {
	rows, err := j.tx.QueryContext(j.ctx, query, args...)
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	defer rows.Close() //nolint:errcheck // rows.Err below tells of any fault of reading
	for rows.Next() {
		if err = do(rows.Scan); err != nil {
			return fmt.Errorf("store: %w", err)
		}
	}
	if err = rows.Err(); err != nil {
		return fmt.Errorf("store: %w", err)
	}
	return nil
}

// Ink is where a sheet was found: the part-th side in a photo, whichever reader found it and whatever it is called.
type Ink struct {
	Photo string
	Part  int
}

// Inks returns where every sheet was found, also those that a later reader replaced.
func (s *Store) Inks(ctx context.Context) (map[int64]Ink, error) {
	all := map[int64]Ink{}
	_, err := collect(ctx, s.db, func(scan func(...any) error) (id int64, err error) {
		var i Ink
		err = scan(&id, &i.Photo, &i.Part)
		all[id] = i
		return id, err
	}, `SELECT id, photo, part FROM sheets ORDER BY id`)
	return all, err
}
