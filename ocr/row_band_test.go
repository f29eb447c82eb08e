package ocr

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// What is drawn in a wide field for remarks is no line through its row; a row without one is looked at as a whole.
// Our own logic.
func TestStruckBand_LeavesOutWhatIsDrawnIn(t *testing.T) {
	bib := sheetmodel.Field{Kind: sheetmodel.Comb, Rect: sheetmodel.Rect{X: 20, Y: 50, W: 27, H: 10}}
	gate := sheetmodel.Field{Kind: sheetmodel.Cell, Rect: sheetmodel.Rect{X: 60, Y: 50, W: 20, H: 10}}
	remark := sheetmodel.Field{Kind: sheetmodel.Drawing, Rect: sheetmodel.Rect{X: 82, Y: 50, W: 100, H: 10}}
	all := bib.Rect.Union(remark.Rect)
	whole := bib.Rect.Union(gate.Rect)
	assert.Equal(t, whole, struckBand(whole, []sheetmodel.Field{bib, gate}))
	assert.Equal(t, whole, struckBand(all, []sheetmodel.Field{remark, bib, gate}))
	assert.Equal(t, remark.Rect, struckBand(remark.Rect, []sheetmodel.Field{remark}))
	assert.Equal(t, all, struckBand(all, []sheetmodel.Field{bib, remark, {Kind: sheetmodel.Tick, Rect: sheetmodel.Rect{X: 176, Y: 50, W: 6, H: 10}}}), "in the middle")
}

// A finger that lies on the margin is darker than the paper from its rim to the card's edge; a stroke in the margin, a note
// or a question mark, has paper behind it, and so has a narrow strip of tape. Our own logic; grey values of photographed
// skin and paper: common practice, no source.
func TestRimOfCover_TellsFingersFromStrokes(t *testing.T) {
	const pxPerMM, paper, skin, pencil = 8.0, 225, 178, 140
	side := &sheetmodel.Side{W: 148, H: 210}
	rim := piece{x0: int(141.5 * inkPxPerMM), x1: int(142.5*inkPxPerMM) - 1, y0: 60 * inkPxPerMM, y1: 67*inkPxPerMM - 1}
	mirrored := piece{x0: int(5.5 * inkPxPerMM), x1: int(6.5*inkPxPerMM) - 1, y0: rim.y0, y1: rim.y1}
	for name, c := range map[string]struct {
		from, to float64 // mm from the edge that are dark
		grey     byte
		is       bool
	}{
		"a finger up to the rim":     {0, 6.5, skin, true},
		"a pencil stroke":            {5.5, 6.5, pencil, false},
		"two strokes":                {4.0, 6.5, pencil, false},
		"a finger that ends outside": {0, 2.0, skin, false},
		"nothing":                    {0, 0, paper, false},
	} {
		for _, right := range []bool{true, false} {
			pg := &page{side: side, w: int(148 * pxPerMM), pxPerMM: pxPerMM, pix: make([]byte, int(148*pxPerMM)*int(210*pxPerMM))}
			for i := range pg.pix {
				pg.pix[i] = paper
				edge := (float64(i%pg.w) + 0.5) / pxPerMM
				if right {
					edge = 148 - edge
				}
				if y := float64(i/pg.w) / pxPerMM; y >= 60 && y < 67 && edge >= c.from && edge < c.to {
					pg.pix[i] = c.grey
				}
			}
			p := mirrored
			if right {
				p = rim
			}
			assert.Equal(t, c.is, pg.rimOfCover(p), "%s, right %v", name, right)
		}
	}
}

// Far from the edge a rim is ink, whatever lies beside it; so is one so near the edge that nothing can be seen beyond.
func TestRimOfCover_OnlyInTheMargin(t *testing.T) {
	side := &sheetmodel.Side{W: 148, H: 210}
	pg := &page{side: side, w: 148 * 8, pxPerMM: 8, pix: make([]byte, 148*8*210*8)} // all dark
	for _, x := range []int{20, 70, 147} {
		assert.False(t, pg.rimOfCover(piece{x0: x * inkPxPerMM, x1: x*inkPxPerMM + 4, y0: 100, y1: 140}), "at %d mm", x)
	}
}
