package store

import (
	"errors"
	"fmt"
	"regexp"

	"gatefold/review/look"
)

// Once a person's name is forgotten, nobody can say any more who "person 1" was. Whoever sits down after that under a name
// that the store doesn't hold may be the one: they are taken for the one, so that forgetting makes no second person.

var forgottenName = regexp.MustCompile(`^person [0-9]+$`)

// Nameless reports whether a name stands for somebody who is forgotten.
func Nameless(name string) bool { return forgottenName.MatchString(name) }

// newcomer reports whether a person's first word or page came after a removal of somebody's name.
func (j *journal) newcomer(by string) (bool, error) {
	var last int64
	if err := j.tx.QueryRowContext(j.ctx, `SELECT COALESCE(MAX(id), 0) FROM forgets`).Scan(&last); err != nil {
		return false, fmt.Errorf("store: %w", err)
	}
	known := last == 0
	for _, table := range []string{"decisions", "served"} {
		if known {
			break
		}
		err := j.each(func(scan func(...any) error) error {
			var person string
			err := scan(&person)
			known = known || look.Person(person) == look.Person(by)
			return err
		}, `SELECT DISTINCT person FROM `+table+` WHERE id < $1`, last)
		if err != nil {
			return false, err
		}
	}
	return !known, nil
}

// mayHaveTyped reports whether somebody who is forgotten has typed the reading of e, and may be who types it now.
func (j *journal) mayHaveTyped(e Entry) (bool, error) {
	keys, err := j.names(e.Reading)
	if err != nil {
		return false, err
	}
	forgotten := false
	for _, key := range keys {
		err = errors.Join(err, j.each(func(scan func(...any) error) error {
			var person string
			err := scan(&person)
			forgotten = forgotten || forgottenName.MatchString(person)
			return err
		}, `SELECT DISTINCT person FROM decisions WHERE reading = $1`, key))
	}
	if err != nil || !forgotten {
		return false, err
	}
	return j.newcomer(e.By)
}
