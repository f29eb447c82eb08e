package store

import (
	"context"
	"database/sql"
	"fmt"
)

// asker is a database, or one transaction of it.
type asker interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// collect runs a query and scans every row.
func collect[T any](ctx context.Context, db asker, scan func(func(...any) error) (T, error), query string, args ...any) ([]T, error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, fmt.Errorf("store: %w", err)
	}
	defer rows.Close() //nolint:errcheck // rows.Err tells of any fault of reading
	var all []T
	for rows.Next() {
		v, err := scan(rows.Scan)
		if err != nil {
			return nil, fmt.Errorf("store: %w", err)
		}
		all = append(all, v)
	}
	if err = rows.Err(); err != nil {
		return nil, fmt.Errorf("store: %w", err)
	}
	return all, nil
}

// single returns the one row of a query, or ErrNotFound with the noun it was looked for by.
func single[T any](ctx context.Context, db *sql.DB, noun string, scan func(func(...any) error) (T, error), query string, args ...any) (T, error) {
	all, err := collect(ctx, db, scan, query, args...)
	if err == nil && len(all) == 0 {
		err = ErrNotFound
	}
	if err != nil {
		var zero T
		return zero, fmt.Errorf("%s: %w", noun, err)
	}
	return all[0], nil
}

func flag(b bool) int {
	if b {
		return 1
	}
	return 0
}
