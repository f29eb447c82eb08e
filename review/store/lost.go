package store

import (
	"context"
	"errors"
)

// Lost returns sides at which decisions were taken and that no reader finds any more, as they were found last and under the names
// that they have now. What was said of them stays with them: given to Follow beside what is in, they keep it from going back to the
// card that they were once taken for. Sides whose readings are lost are left out.
func (s *Store) Lost(ctx context.Context, decisions []Decision, sheets []Sheet, inks map[int64]Ink) ([]Sheet, error) {
	in := map[Ink]bool{}
	for i := range sheets {
		in[Ink{Photo: sheets[i].Photo, Part: sheets[i].Part}] = true
	}
	last := map[Ink]int64{}
	for id, ink := range inks {
		last[ink] = max(last[ink], id)
	}
	var lost []Sheet
	for _, d := range decisions {
		ink, known := inks[d.Sheet]
		if !known || in[ink] {
			continue
		}
		in[ink] = true
		sheet, err := s.Sheet(ctx, last[ink])
		switch {
		case errors.Is(err, ErrNotFound):
		case err != nil:
			return nil, err
		default:
			lost = append(lost, sheet)
		}
	}
	return lost, nil
}
