package scantest

import (
	"math/bits"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan/camera"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

func TestTagFamily_PrintsTagsWhereTheCornerMarksWere(t *testing.T) {
	const pxPerMM = 16
	side := sheetmodel.BuiltinLayouts()[0].Side(sheetmodel.Back)
	for _, family := range []TagFamily{ArUco, AprilTag} {
		paper := print.RasterBlank(side, pxPerMM)
		family.print(paper, side, pxPerMM)
		n := tagPatterns[family].modules
		black := func(place sheetmodel.Rect, column, row int) bool {
			module := float64(place.W) / float64(n+2)
			x, y := float64(place.X)+(float64(column)+0.5)*module, float64(place.Y)+(float64(row)+0.5)*module
			return paper.GrayAt(int(x*pxPerMM), int(y*pxPerMM)).Y < 128
		}
		for id, place := range TagPlaces(side) {
			count := 0
			for row := range n + 2 {
				for column := range n + 2 {
					frame := row == 0 || column == 0 || row == n+1 || column == n+1
					if frame {
						assert.True(t, black(place, column, row), "%s %d: frame, column %d row %d", family, id, column, row)
					} else if black(place, column, row) {
						count++
					}
				}
			}
			assert.Equal(t, bits.OnesCount64(tagPatterns[family].bits[id]), count, "%s %d", family, id)
			assert.False(t, black(place, -1, 1), "%s %d: no white beside it", family, id)
		}
		left := paper.GrayAt(int(float64(side.Marks[1].Rect.X+0.5)*pxPerMM), int(float64(side.Marks[1].Rect.Y+0.5)*pxPerMM))
		assert.EqualValues(t, 255, left.Y, "%s: a mark of ours is left between the tags", family)
	}
}

func TestTagPlaces_GoRoundTheCard(t *testing.T) {
	side := sheetmodel.BuiltinLayouts()[0].Side(sheetmodel.Front)
	p := TagPlaces(side)
	assert.Less(t, p[0].X, p[1].X)
	assert.InDelta(t, float64(p[0].Y), float64(p[1].Y), 1e-9)
	assert.Less(t, p[1].Y, p[2].Y)
	assert.InDelta(t, float64(p[0].X), float64(p[3].X), 1e-9)
	assert.InDelta(t, float64(p[2].Y), float64(p[3].Y), 1e-9)
}

// The truth's own map is right; the same map of another place, or turned, is not.
func TestJudgeMap_TruthIsRightAndASlightShiftIsNot(t *testing.T) {
	layouts, err := Layouts()
	require.NoError(t, err)
	s := &Sample{Layout: layouts[0], Side: layouts[0].Side(sheetmodel.Front)}
	flat := camera.Flat(s.Side.W, s.Side.H, 6)
	s.View = flat.View()
	o := JudgeMap(s, s.View.PhotoFromSheet)
	assert.Equal(t, Right, o.Verdict, o.Why)
	tally := Tally{}
	tally.Add(o)
	assert.Less(t, tally.ErrorMM(1), 0.01)
	for name, move := range map[string]func(p sheetmodel.SheetPoint) sheetmodel.SheetPoint{
		"3.1 mm off":  func(p sheetmodel.SheetPoint) sheetmodel.SheetPoint { p.X += 3.1; return p },
		"1.1 mm off":  func(p sheetmodel.SheetPoint) sheetmodel.SheetPoint { p.Y += 1.1; return p },
		"upside down": func(p sheetmodel.SheetPoint) sheetmodel.SheetPoint { p.X, p.Y = s.Side.W-p.X, s.Side.H-p.Y; return p },
	} {
		got := JudgeMap(s, func(p sheetmodel.SheetPoint) sheetmodel.PhotoPoint { return s.View.PhotoFromSheet(move(p)) })
		assert.Equal(t, Wrong, got.Verdict, name)
	}
	half := JudgeMap(s, func(p sheetmodel.SheetPoint) sheetmodel.PhotoPoint {
		return s.View.PhotoFromSheet(sheetmodel.SheetPoint{X: p.X + 0.9, Y: p.Y})
	})
	assert.Equal(t, Right, half.Verdict, half.Why)
}
