package scan

import (
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
