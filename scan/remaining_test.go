package scan

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// TestUnheld_CornerAmongPrintThatIsLost_IsHeldByNothing: a corner that a map is drawn on to, from print that was seen
// elsewhere, is doubted earlier; one with a box or two written over is not.
func TestUnheld_CornerAmongPrintThatIsLost_IsHeldByNothing(t *testing.T) {
	cross := patch{hess: [3]float64{1, 0, 1}} // print both ways
	at := func(x, y sheetmodel.MM, seen, inside bool) place {
		p := cross
		p.center = sheetmodel.SheetPoint{X: x, Y: y}
		return place{patch: &p, seen: seen, inside: inside}
	}
	field := sheetmodel.Rect{X: 20, Y: 20, W: 60, H: 60}
	lost := []place{at(12, 20, false, true), at(20, 12, false, true), at(28, 20, false, true)}
	held := []place{at(80, 80, true, true), at(22, 26, true, true)}
	assert.True(t, (&remaining{places: append(lost, held...)}).unheld(field))
	assert.False(t, (&remaining{places: append(lost[:2:2], held...)}).unheld(field), "two may be written over")
	more := []place{at(26, 26, true, true), at(14, 26, true, true), at(26, 14, true, true)}
	assert.False(t, (&remaining{places: append(append(lost[:3:3], held...), more...)}).unheld(field), "as much is seen")
	outside := []place{at(12, 20, false, false), at(20, 12, false, false), at(28, 20, false, false)}
	assert.False(t, (&remaining{places: append(outside, held...)}).unheld(field), "the picture's edge is another matter")
}

// TestHeld_LinesOneWay_HoldACornerOneWay: along a line nothing holds it, and a match that may have slid holds nothing.
func TestHeld_LinesOneWay_HoldACornerOneWay(t *testing.T) {
	at := func(x, y sheetmodel.MM, hess [3]float64, score float64) place {
		return place{patch: &patch{center: sheetmodel.SheetPoint{X: x, Y: y}, hess: hess}, seen: true, inside: true, score: score}
	}
	level, cross := [3]float64{0, 0, 1}, [3]float64{1, 0, 1}
	corner := sheetmodel.SheetPoint{X: 100, Y: 20}
	line := []place{at(96, 20, level, 0.97), at(88, 20, level, 0.97), at(80, 20, level, 0.97), at(70, 20, cross, 0.97), at(139, 20, cross, 0.97)}
	assert.InDelta(t, 30, newHeld(line).at(corner), 1e-6, "the nearest print that holds it along the line")
	near := append(line, at(100, 23, cross, 0.97))
	assert.InDelta(t, 3, newHeld(near).at(corner), 1e-6, "its corner holds it both ways")

	slid := append(line, at(100, 23, cross, 0.7), at(100, 32, cross, 0.1))
	slid[6].seen = false
	assert.InDelta(t, 30, newHeld(slid).at(corner), 1e-6, "a poor match beside print that isn't seen")
	slid[6].inside = false
	assert.InDelta(t, 3, newHeld(slid).at(corner), 1e-6, "what lies outside the picture says nothing of it")
	assert.True(t, math.IsInf(newHeld(line[:3]).at(corner), 1), "nothing holds it along the line")
}

// TestHeld_NothingOnOneSide_CountsAsFar: beyond the last line that is seen the map is drawn on, and may be off by more than
// between two lines as far away.
func TestHeld_NothingOnOneSide_CountsAsFar(t *testing.T) {
	cross := [3]float64{1, 0, 1}
	table := func(lastRow sheetmodel.MM) (places []place) {
		for y := sheetmodel.MM(20); y <= lastRow; y += 10 {
			for x := sheetmodel.MM(20); x <= 100; x += 10 {
				places = append(places, place{patch: &patch{center: sheetmodel.SheetPoint{X: x, Y: y}, hess: cross}, seen: true, inside: true, score: 1})
			}
		}
		return places
	}
	corner := sheetmodel.SheetPoint{X: 60, Y: 196}
	assert.InDelta(t, 4, newHeld(table(200)).at(corner), 1e-6, "the last line is seen")
	assert.InDelta(t, drawnOn, newHeld(table(190)).at(corner), 1e-6, "it isn't")
	far := append(table(190), table(240)[9*22:]...)
	assert.InDelta(t, drawnOn, newHeld(far).at(corner), 1e-6, "what is printed 44 mm below holds it no better")
	assert.InDelta(t, 6, newHeld(append(table(190), table(230)[9*19:]...)).at(corner), 1e-6, "what is printed 14 mm below does")
	assert.InDelta(t, 4, newHeld(table(200)).at(sheetmodel.SheetPoint{X: 20, Y: 196}), 1e-6, "a corner of the table")
}
