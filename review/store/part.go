package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// What people say of a side without an identity hangs on its place among the sides of its photo. A newer reader may find one more
// side in the photo, or find them in another order: a side keeps its number by where it lies in the photo.

// keptParts returns the numbers of the sides of a photo that was read before: a side without an identity has the one that it had,
// and so has one whose identity two papers carry, or may.
// Where one paper was or is read as several forms, only the same form has it: what somebody said while one was certain is
// no answer to the question which of two it is, and what they said of one form is not said of another.
func (j *journal) keptParts(photo string, sheets []NewSheet) ([]int, error) {
	parts := make([]int, len(sheets))
	for i, s := range sheets {
		parts[i] = s.Part
	}
	if !slices.ContainsFunc(sheets, func(s NewSheet) bool { return s.Read.Plain != nil }) {
		var said, twice int // of one of two papers with one identity; what may be two such papers
		err := j.tx.QueryRowContext(j.ctx, `SELECT COUNT(*) FROM answers WHERE question LIKE $1`, fmt.Sprintf("which-card/%.12s-%%", photo)).Scan(&said)
		err = errors.Join(err, j.tx.QueryRowContext(j.ctx, `SELECT COUNT(*) FROM sheets a JOIN sheets b ON b.outcome = a.outcome AND b.id > a.id AND
			b.run = a.run AND b.course = a.course AND b.card = a.card AND b.side = a.side WHERE a.photo = $1`, photo).Scan(&twice))
		if err != nil || said+twice == 0 && !sideTwice(sheets) {
			return parts, err
		}
	}
	type earlier struct {
		part    int
		corners [4]sheetmodel.PhotoPoint
		layout  string
		forked  bool // the paper was read as another form as well
	}
	var all []earlier // newest first
	most := slices.Max(parts)
	err := j.each(func(scan func(...any) error) error {
		var e earlier
		var corners, body string
		if err := scan(&e.part, &corners, &e.layout, &body); err != nil {
			return err
		}
		forms, err := formsIn(body)
		err = errors.Join(json.Unmarshal([]byte(corners), &e.corners), err)
		e.forked = len(forms) > 0
		all, most = append(all, e), max(most, e.part)
		return err
	}, `SELECT s.part, s.corners, s.layout, r.body FROM sheets s JOIN reads r ON r.sheet = s.id WHERE s.photo = $1
		ORDER BY s.outcome DESC, s.part`, photo) // two pages of one file may lie alike: the first is the first again
	if err != nil {
		return nil, fmt.Errorf("photo %s: %w", photo, err)
	}
	if len(all) == 0 {
		return parts, nil
	}
	taken, kept := map[int]bool{}, make([]bool, len(sheets))
	for i, s := range sheets {
		forks := s.Read.Plain != nil && len(s.Read.Plain.Or) > 0
		k := slices.IndexFunc(all, func(e earlier) bool {
			return !taken[e.part] && samePlace(e.corners, s.Corners) && (e.layout == s.Layout && (!forks || e.forked) || !forks && !e.forked)
		})
		if k >= 0 {
			parts[i], kept[i] = all[k].part, true
			taken[all[k].part] = true
		}
	}
	for i := range sheets {
		if kept[i] {
			continue
		}
		known := slices.ContainsFunc(all, func(e earlier) bool { return e.part == parts[i] && e.corners != [4]sheetmodel.PhotoPoint{} })
		if taken[parts[i]] || known && sheets[i].Corners != [4]sheetmodel.PhotoPoint{} { // another side's, or one that lies elsewhere
			most++
			parts[i] = most
		}
		taken[parts[i]] = true
	}
	return parts, nil
}

// sideTwice reports whether one side of one card was found twice: two papers may carry its identity, and people may say so.
func sideTwice(sheets []NewSheet) bool {
	for i, s := range sheets {
		if slices.ContainsFunc(sheets[:i], func(o NewSheet) bool { return o.Card == s.Card && o.Identity.Side == s.Identity.Side }) {
			return true
		}
	}
	return false
}

// renumbered returns p with the parts that sheets have got instead of their own.
func (p *PlainCard) renumbered(sheets []NewSheet, parts []int) *PlainCard {
	if p == nil || len(p.Or) == 0 {
		return p
	}
	again := &PlainCard{OneSided: p.OneSided}
	for i, s := range sheets {
		if slices.Contains(p.Or, s.Part) {
			again.Or = append(again.Or, parts[i])
		}
	}
	return again
}

// samePlace reports whether two sides found in one photo are the same: their middles are nearer to each other than half the shorter
// edge of either. False where it isn't known where one of them lies.
func samePlace(a, b [4]sheetmodel.PhotoPoint) bool {
	middle := func(c [4]sheetmodel.PhotoPoint) (x, y float64) {
		for _, p := range c {
			x, y = x+p.X/4, y+p.Y/4
		}
		return x, y
	}
	shortest := math.Inf(1)
	for _, c := range [][4]sheetmodel.PhotoPoint{a, b} {
		for i, p := range c {
			q := c[(i+1)%4]
			shortest = min(shortest, math.Hypot(p.X-q.X, p.Y-q.Y))
		}
	}
	ax, ay := middle(a)
	bx, by := middle(b)
	return math.Hypot(ax-bx, ay-by) < shortest/2
}
