package scan

import "math"

// A card whose marks are all large is found in a small picture, for a quarter of the time or less:
//
//	level below levelForMarks --one reach--> all marks of one card, large, and none left over --each anew, finer--> done
//
// Anything else, and the picture is looked at as if this had not been tried. A second card, of which the finer level
// could show more, would be half as large or less, or it would have left a mark over here.

const (
	atOnceSize = 15.0 // px of the smallest mark's side: of a card half as large one in six would still be read
	// A mark left over that may be another card's, by its size and its contrast to these. Smaller and paler ones are
	// what gravel, grass and writing make of themselves.
	likeSize  = 0.4
	likeClear = 0.4
)

// atOnce returns the marks seen in level i of the pyramid if they are all of one card and large, their corners set as
// exactly as the next finer level shows them; otherwise nil.
func atOnce(pyr *pyramid, i int, outlines []*face) []seenMark {
	v := &pyr.levels[i]
	marks := marksOf(v, squaresWithin(v, reaches[0]))
	groups := groupMarks(marks, outlines)
	if len(groups) != 1 || len(groups[0].marks) < len(groups[0].face.marks) {
		return nil
	}
	g := &groups[0]
	least := seenMark{size: math.Inf(1), clear: math.Inf(1)}
	for _, m := range g.marks {
		least.size, least.clear = min(least.size, m.size), min(least.clear, m.clear)
	}
	if least.size*v.sx < atOnceSize {
		return nil
	}
	inv, ok := g.flat.inverse()
	if !ok {
		return nil
	}
	for _, m := range g.spare {
		if at := inv.back(m.center); m.misread > 0 && at.X > 0 && at.Y > 0 && at.X < g.face.side.W && at.Y < g.face.side.H {
			continue // on the card itself: what print and writing make of themselves
		}
		if m.size > likeSize*least.size && m.clear > likeClear*least.clear {
			return nil
		}
	}
	finer := &pyr.levels[i-1]
	var out []seenMark
	for _, m := range g.marks {
		var q square
		for k, c := range m.corners {
			q[k].x, q[k].y = finer.local(c)
		}
		if sharp, ok := q.sharpen(finer); ok {
			if again, ok := readMark(finer, sharp); ok && again.id == m.id {
				m = again
			}
		}
		out = append(out, m)
	}
	return out
}
