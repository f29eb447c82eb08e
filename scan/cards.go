package scan

import (
	"math"
	"sort"

	"gatefold/sheetmodel"
)

// group is a set of marks that can lie on one side of one card.
type group struct {
	face   *face
	marks  []seenMark
	flat   homography  // flat sheet to photo, from all corners
	miss   float64     // mm, mean distance of marks from where flat puts them
	prints []PointPair // features of the form's print, where no marks tell where it lies
	spare  []seenMark  // marks of no group: folded paper may have moved one of this card's too far to tell yet
}

const (
	minMarks = 3 // two marks leave the far half of the card to guesswork
	// How far a mark's centre may lie from where two others of its card put it: bent paper lifts a mark
	// by up to 10 mm, which a tilt of 45 degrees shows as 7.
	groupSlack      = 3.0  // mm
	groupSlackShare = 0.09 // of the distance to the nearer of the two
	// Where cards lie side by side, marks of two may pass for one card's within that slack. Cards that lie flat
	// are taken out first, by many marks that agree well.
	flatMarks = 4
	flatShare = 0.25 // of the slack
)

// groupMarks sorts marks into cards: largest groups first, each mark used once.
func groupMarks(marks []seenMark, faces []*face) []group {
	free := append([]seenMark(nil), marks...)
	var groups []group
	slack := flatShare
	for {
		best := bestGroup(free, faces, slack)
		if slack == flatShare && (best == nil || len(best.marks) < flatMarks) {
			slack = 1
			continue
		}
		if best == nil {
			for i := range groups {
				groups[i].spare = free
			}
			return groups
		}
		groups = append(groups, *best)
		var rest []seenMark
		for _, m := range free {
			if !holdsMark(best.marks, m) {
				rest = append(rest, m)
			}
		}
		free = rest
	}
}

func holdsMark(marks []seenMark, m seenMark) bool {
	for _, o := range marks {
		if o.id == m.id && o.center == m.center {
			return true
		}
	}
	return false
}

func bestGroup(marks []seenMark, faces []*face, slack float64) *group {
	var best *group
	for _, f := range faces {
		for i, a := range marks {
			ra, ok := f.mark(a.id)
			if !ok {
				continue
			}
			for _, b := range marks[i+1:] {
				rb, ok := f.mark(b.id)
				if !ok || a.id == b.id {
					continue
				}
				pairs := append(cornerPairs(ra, a), cornerPairs(rb, b)...)
				flat, ok := fitHomography(pairs)
				if !ok {
					continue
				}
				g := gather(f, flat, marks, ra.Center(), rb.Center(), slack)
				if g != nil && (best == nil || len(g.marks) > len(best.marks) || len(g.marks) == len(best.marks) && g.miss < best.miss) {
					best = g
				}
			}
		}
	}
	return best
}

// gather collects the marks that agree with flat to a share of the slack, one of each id, and fits again.
func gather(f *face, flat homography, marks []seenMark, a, b sheetmodel.SheetPoint, slack float64) *group {
	inv, ok := flat.inverse()
	if !ok {
		return nil
	}
	type candidate struct {
		mark seenMark
		miss float64
	}
	byID := map[int]candidate{}
	for _, m := range marks {
		rect, ok := f.mark(m.id)
		if !ok {
			continue
		}
		want := rect.Center()
		far := math.Min(sheetDistance(want, a), sheetDistance(want, b))
		miss := sheetDistance(inv.back(m.center), want)
		if miss > slack*(groupSlack+groupSlackShare*far) || !sameWay(inv, m, rect) {
			continue
		}
		if c, taken := byID[m.id]; !taken || miss < c.miss {
			byID[m.id] = candidate{m, miss}
		}
	}
	if len(byID) < minMarks {
		return nil
	}
	g := &group{face: f}
	var pairs []PointPair
	for _, c := range byID {
		g.marks = append(g.marks, c.mark)
	}
	sort.Slice(g.marks, func(i, j int) bool { return g.marks[i].id < g.marks[j].id })
	for _, m := range g.marks {
		rect, _ := f.mark(m.id)
		pairs = append(pairs, cornerPairs(rect, m)...)
	}
	if g.flat, ok = fitHomography(pairs); !ok {
		return nil
	}
	if inv, ok = g.flat.inverse(); !ok {
		return nil
	}
	for _, p := range pairs {
		g.miss += sheetDistance(inv.back(p.Photo), p.Sheet) / float64(len(pairs))
	}
	return g
}

// has reports whether the group holds the mark.
func (g *group) has(id int) bool {
	for _, m := range g.marks {
		if m.id == id {
			return true
		}
	}
	return false
}

// sameWay reports whether the mark's own corners lie round its centre as inv says, so that a mark
// of a neighbouring card that happens to lie near is not taken in.
func sameWay(inv homography, m seenMark, rect sheetmodel.Rect) bool {
	center := inv.back(m.center)
	for i, want := range corners(rect) {
		got := inv.back(m.corners[i])
		dx := float64(got.X-center.X) - float64(want.X-rect.Center().X)
		dy := float64(got.Y-center.Y) - float64(want.Y-rect.Center().Y)
		if math.Hypot(dx, dy) > 0.35*float64(rect.W) {
			return false
		}
	}
	return true
}

// back maps a photo point by an inverse homography.
func (h *homography) back(p sheetmodel.PhotoPoint) sheetmodel.SheetPoint {
	q := h.at(sheetmodel.SheetPoint{X: sheetmodel.MM(p.X), Y: sheetmodel.MM(p.Y)})
	return sheetmodel.SheetPoint{X: sheetmodel.MM(q.X), Y: sheetmodel.MM(q.Y)}
}

func sheetDistance(a, b sheetmodel.SheetPoint) float64 {
	return math.Hypot(float64(a.X-b.X), float64(a.Y-b.Y))
}

// corners returns a rectangle's corners: top left, top right, bottom right, bottom left.
func corners(r sheetmodel.Rect) [4]sheetmodel.SheetPoint {
	return [4]sheetmodel.SheetPoint{{X: r.X, Y: r.Y}, {X: r.X + r.W, Y: r.Y}, {X: r.X + r.W, Y: r.Y + r.H}, {X: r.X, Y: r.Y + r.H}}
}

func cornerPairs(rect sheetmodel.Rect, m seenMark) []PointPair {
	var pairs []PointPair
	for i, c := range corners(rect) {
		pairs = append(pairs, PointPair{Sheet: c, Photo: m.corners[i]})
	}
	return pairs
}
