package rivals

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/scan/camera"
	"gatefold/scan/scantest"
	"gatefold/sheetmodel"
)

// flatSample is a card that lies flat under the camera, turned by nothing: its map is a scale and a shift.
func flatSample() (*scantest.Sample, Map) {
	l := sheetmodel.BuiltinLayouts()[0]
	s := &scantest.Sample{Layout: l, Side: l.Side(sheetmodel.Front)}
	shot := camera.Flat(s.Side.W, s.Side.H, 6)
	s.View = shot.View()
	o := s.View.PhotoFromSheet(sheetmodel.SheetPoint{})
	x := s.View.PhotoFromSheet(sheetmodel.SheetPoint{X: 1})
	y := s.View.PhotoFromSheet(sheetmodel.SheetPoint{Y: 1})
	return s, Map{x.X - o.X, y.X - o.X, o.X, x.Y - o.Y, y.Y - o.Y, o.Y, 0, 0, 1}
}

func TestJudge_TellsWhichWayRoundTheCardLies(t *testing.T) {
	s, right := flatSample()
	w, h := float64(s.Side.W), float64(s.Side.H)
	// Upside down: (x, y) is taken for (w-x, h-y).
	turned := Map{-right[0], -right[1], right[0]*w + right[1]*h + right[2], -right[3], -right[4], right[3]*w + right[4]*h + right[5], 0, 0, 1}
	assert.Equal(t, scantest.Wrong, Judge(s, Answer{Maps: []Map{turned}}, 0).Verdict)
	assert.Equal(t, scantest.Right, Judge(s, Answer{Maps: []Map{turned, right}}, 0).Verdict)
	assert.Equal(t, scantest.Right, Judge(s, Answer{Maps: []Map{right, turned}}, 0).Verdict)
}

func TestJudge_TooFewTagsIsNoAnswer(t *testing.T) {
	s, right := flatSample()
	assert.Equal(t, scantest.Refused, Judge(s, Answer{Maps: []Map{right}, Tags: 3}, 4).Verdict)
	assert.Equal(t, scantest.Right, Judge(s, Answer{Maps: []Map{right}, Tags: 3}, 2).Verdict)
	assert.Equal(t, scantest.Refused, Judge(s, Answer{}, 0).Verdict)
}
