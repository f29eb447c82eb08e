package store

import (
	"context"
	"errors"
	"fmt"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// DamagedError says that the database file is broken, as after a failing disk. Open returns it, and has
// changed nothing.
type DamagedError struct {
	Path   string
	Detail error
}

// Error names the file, what is wrong and what to do.
func (e *DamagedError) Error() string {
	return fmt.Sprintf("%s: damaged: %v; the photos in %s are not touched; copy the whole race folder to another disk first, "+
		"then bring %s back from a copy or from a packed race, or bring over what is readable: gatefold rescue RACE NEW-FOLDER",
		e.Path, e.Detail, OriginalsName, FileName)
}

// Unwrap returns what SQLite says.
func (e *DamagedError) Unwrap() error { return e.Detail }

// check looks through the whole database, so that damage is said on opening and not in the middle of a
// race. It costs milliseconds for each megabyte.
func (s *Store) check(ctx context.Context) error {
	if s.pg {
		return nil // its server looks after its files; what it finds broken it says at the query
	}
	said, err := collect(ctx, s.db, func(scan func(...any) error) (string, error) {
		var line string
		return line, scan(&line)
	}, `PRAGMA quick_check(1)`)
	if err == nil && len(said) > 0 && said[0] != "ok" {
		err = foundError(said[0])
	}
	return err
}

// foundError is what SQLite's check says.
type foundError string

func (e foundError) Error() string { return string(e) }

// damaged turns an error that speaks of a broken file into a *DamagedError.
func damaged(path string, err error) error {
	var found foundError
	var e *sqlite.Error
	if errors.As(err, &found) || errors.As(err, &e) && (e.Code()&0xff == sqlite3.SQLITE_CORRUPT || e.Code()&0xff == sqlite3.SQLITE_NOTADB) {
		return &DamagedError{Path: path, Detail: err}
	}
	return err
}

// busy reports whether another program is at the database.
func busy(err error) bool {
	var e *sqlite.Error
	return errors.As(err, &e) && e.Code()&0xff == sqlite3.SQLITE_BUSY
}
