package store

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// What people say of a side without an identity hangs on its place among the sides of its photo. A newer reader may find one more
// side in the photo, or find them in another order: a side keeps its number by where it lies in the photo.

// keptParts returns the numbers of the sides of a photo that was read before: a side without an identity has the one that it had,
// and so has one whose identity two papers carry.
func (j *journal) keptParts(photo string, sheets []NewSheet) ([]int, error) {
	parts := make([]int, len(sheets))
	for i, s := range sheets {
		parts[i] = s.Part
	}
	if !slices.ContainsFunc(sheets, func(s NewSheet) bool { return s.Read.Plain != nil }) {
		var said int // of one of two papers with one identity
		err := j.tx.QueryRowContext(j.ctx, `SELECT COUNT(*) FROM answers WHERE question LIKE $1`, fmt.Sprintf("which-card/%.12s-%%", photo)).Scan(&said)
		if err != nil || said == 0 {
			return parts, err
		}
	}
	type earlier struct {
		part    int
		corners [4]sheetmodel.PhotoPoint
	}
	var all []earlier // newest first
	most := slices.Max(parts)
	err := j.each(func(scan func(...any) error) error {
		var e earlier
		var corners string
		if err := scan(&e.part, &corners); err != nil {
			return err
		}
		all, most = append(all, e), max(most, e.part)
		return json.Unmarshal([]byte(corners), &all[len(all)-1].corners)
	}, `SELECT part, corners FROM sheets WHERE photo = $1 ORDER BY id DESC`, photo)
	if err != nil {
		return nil, fmt.Errorf("photo %s: %w", photo, err)
	}
	if len(all) == 0 {
		return parts, nil
	}
	taken, kept := map[int]bool{}, make([]bool, len(sheets))
	for i, s := range sheets {
		k := slices.IndexFunc(all, func(e earlier) bool { return !taken[e.part] && samePlace(e.corners, s.Corners) })
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
