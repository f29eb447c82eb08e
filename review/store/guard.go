package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// ErrReadMeanwhile is returned when somebody else has kept what a photo shows, or why it is refused.
var ErrReadMeanwhile = errors.New("read by another reader meanwhile")

// Guard is asked within the transaction that keeps what became of a photo, and may write in it. Its error keeps
// nothing.
type Guard func(ctx context.Context, tx *sql.Tx) error

// Unread is the Guard that lets a photo's first outcome in and no second one. Its error is ErrReadMeanwhile.
func Unread(photo string) Guard {
	return func(ctx context.Context, tx *sql.Tx) error {
		var n int
		err := tx.QueryRowContext(ctx, `SELECT COUNT(*) FROM outcomes WHERE photo = $1`, photo).Scan(&n)
		if err == nil && n > 0 {
			err = ErrReadMeanwhile
		}
		if err != nil {
			return fmt.Errorf("photo %s: %w", photo, err)
		}
		return nil
	}
}

// Guarded keeps what became of photos where all its guards let it: what they write and what it keeps are
// committed together or not at all.
type Guarded struct {
	store  *Store
	guards []Guard
}

// Guarded returns the store behind guards.
func (s *Store) Guarded(guards ...Guard) Guarded { return Guarded{s, guards} }

// AddSheets is the Store's, behind the guards.
func (g Guarded) AddSheets(ctx context.Context, photo, reader string, sheets []NewSheet, further ...Refusal) error {
	return g.store.addSheets(ctx, g.guards, photo, reader, sheets, further)
}

// Refuse is the Store's, behind the guards.
func (g Guarded) Refuse(ctx context.Context, photo, reader string, why Refusal, further ...Refusal) error {
	return g.store.refuse(ctx, g.guards, photo, reader, why, further)
}

// Together runs f in one write transaction of the store's database and commits it durably. It is for what lies
// in the same database and has to be written together: f must leave the store's own tables alone.
func (s *Store) Together(ctx context.Context, f func(context.Context, *sql.Tx) error) error {
	return s.append(ctx, func(j *journal) error { return f(j.ctx, j.tx) })
}

// Database returns the store's database, and whether it is PostgreSQL, for what lies in the same one. It stays the
// Store's, which closes it.
func (s *Store) Database() (db *sql.DB, postgres bool) { return s.db, s.pg }

func (j *journal) let(guards []Guard) error {
	for _, g := range guards {
		if err := g(j.ctx, j.tx); err != nil {
			return err
		}
	}
	return nil
}
