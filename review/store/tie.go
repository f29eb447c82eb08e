package store

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"gatefold/review/look"
)

// CardTies is what second writings lend to the rows of one card, worked out from one sheet of its
// front and one of its back. Back is 0 if there is none yet: second boxes need only the front.
type CardTies struct {
	Front  int64       `json:"front"`
	Back   int64       `json:"back,omitempty"`
	Reader string      `json:"reader"` // version that worked them out
	Ties   []look.Tied `json:"ties"`
	At     time.Time   `json:"at"`
}

// AddTies keeps a card's ties; At is the store's clock. They hold for these two sheets only: when a
// side is photographed or read again, they lend nothing until they are worked out anew. What two readers work out
// side by side for one card is kept once.
func (s *Store) AddTies(ctx context.Context, c CardTies) error {
	for _, id := range []int64{c.Front, c.Back} {
		if id == 0 && c.Front != 0 {
			continue
		}
		if _, err := s.Sheet(ctx, id); err != nil {
			return err
		}
	}
	body, err := json.Marshal(c.Ties)
	if err != nil {
		return fmt.Errorf("ties: %w", err)
	}
	return s.append(ctx, func(j *journal) error {
		var same int
		err := j.tx.QueryRowContext(ctx, `SELECT COUNT(*) FROM ties WHERE front = $1 AND back = $2 AND reader = $3 AND body = $4
			AND id = (SELECT MAX(x.id) FROM ties x WHERE x.front = $1 AND x.back = $2)`, c.Front, c.Back, c.Reader, string(body)).Scan(&same)
		if err != nil {
			return fmt.Errorf("store: %w", err)
		}
		if same > 0 {
			return nil
		}
		at := stampOf(j.at)
		_, err = j.add(`INSERT INTO ties (id, front, back, reader, body, at_utc, at_offset_s) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
			c.Front, c.Back, c.Reader, string(body), at.utc, at.offset)
		return err
	})
}

// Ties returns the ties of all cards in order; for a pair of sheets the last one counts.
func (s *Store) Ties(ctx context.Context) ([]CardTies, error) {
	return collect(ctx, s.db, func(scan func(...any) error) (CardTies, error) {
		var c CardTies
		var at stamp
		var body string
		err := scan(&c.Front, &c.Back, &c.Reader, &body, &at.utc, &at.offset)
		if err == nil {
			err = json.Unmarshal([]byte(body), &c.Ties)
		}
		if err == nil {
			c.At, err = at.time()
		}
		return c, err
	}, `SELECT front, back, reader, body, at_utc, at_offset_s FROM ties ORDER BY id`)
}
