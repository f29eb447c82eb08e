package store

import (
	"database/sql"
	"fmt"
	"time"
)

// stamp is a time as two columns: UTC as text that sorts, and the offset east of it in seconds.
// A zero time is two NULLs.
type stamp struct {
	utc    sql.NullString
	offset sql.NullInt64
}

// stampLayout has a fixed width, so that text order is time order.
const stampLayout = "2006-01-02T15:04:05.000000000Z"

func stampOf(t time.Time) stamp {
	if t.IsZero() {
		return stamp{}
	}
	_, offset := t.Zone()
	return stamp{
		utc:    sql.NullString{String: t.UTC().Format(stampLayout), Valid: true},
		offset: sql.NullInt64{Int64: int64(offset), Valid: true},
	}
}

func (s stamp) time() (time.Time, error) {
	if !s.utc.Valid {
		return time.Time{}, nil
	}
	t, err := time.Parse(stampLayout, s.utc.String)
	if err != nil {
		return time.Time{}, fmt.Errorf("store: stored time: %w", err)
	}
	if s.offset.Int64 == 0 {
		return t, nil
	}
	return t.In(time.FixedZone("", int(s.offset.Int64))), nil
}
