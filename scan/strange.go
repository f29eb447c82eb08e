package scan

import (
	"math"

	"gatefold/sheetmodel"
)

// Two cards of one kind side by side carry each mark twice, and some of one with some of the other may lie
// as on one card seen at a slant. The print tells: it follows one card and leaves the other's marks beside.

const (
	strangeMM    = 3.0 // mm by which the map misses a mark of another card; its own it misses by tenths
	strangeTries = 3
)

// follow follows the print from the card's marks. Marks that the print contradicts belong to another card: they
// are set free and the rest tried without them.
func (f *Found) follow(pyr *pyramid) (sheetMap, []place, error) {
	var paper sheetMap
	var places []place
	for range strangeTries {
		var err error
		if paper, places, err = followPrint(pyr, f.face, f.paper, &f.group, f.PxPerMM); err != nil {
			return paper, places, err
		}
		own, strange := f.group.split(&paper)
		if len(strange) == 0 {
			return paper, places, nil
		}
		if len(own) < minMarks {
			break
		}
		g := group{face: f.face, marks: own, prints: f.group.prints, spare: append(strange, f.group.spare...)}
		var pairs []PointPair
		for _, m := range own {
			rect, _ := f.face.mark(m.id)
			pairs = append(pairs, cornerPairs(rect, m)...)
		}
		var ok bool
		if g.flat, ok = fitHomography(append(pairs, g.prints...)); !ok {
			break
		}
		if f.paper, err = paperFromMarks(&g); err != nil {
			break
		}
		f.group = g
		f.PxPerMM = meanPxPerMM(&f.paper, f.face.side)
	}
	return paper, places, errStrange
}

// split sorts the group's marks into those that lie where the map puts them, and others.
func (g *group) split(paper *sheetMap) (own, strange []seenMark) {
	for _, m := range g.marks {
		rect, _ := g.face.mark(m.id)
		at, right := paper.at(rect.Center()), paper.at(sheetmodel.SheetPoint{X: rect.X + rect.W, Y: rect.Y + rect.H/2})
		below := paper.at(sheetmodel.SheetPoint{X: rect.X + rect.W/2, Y: rect.Y + rect.H})
		// In mm along the direction that the view shortens least.
		perMM := math.Max(distance(right, at)/(float64(rect.W)/2), distance(below, at)/(float64(rect.H)/2))
		if perMM > 0 && distance(at, m.center) <= strangeMM*perMM {
			own = append(own, m)
		} else {
			strange = append(strange, m)
		}
	}
	return own, strange
}
