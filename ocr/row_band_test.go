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
