package ocr

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// A shadow that lies along the card's edge, from a stroke in the margin on, makes no finger's rim of the stroke: it is far darker
// than what lies behind it. A question mark or a corrected number beside the row would vanish, and the bib stay clear.
// Our own logic.
func TestRimOfCover_StrokeAtTheRimOfAShadow_IsInk(t *testing.T) {
	const pxPerMM, paper, shade, pencil = 8.0, 225, 196, 120
	side := &sheetmodel.Side{W: 148, H: 210}
	for slant := range 3 { // mm that the stroke leans over
		pg := &page{side: side, w: int(148 * pxPerMM), pxPerMM: pxPerMM, pix: make([]byte, int(148*pxPerMM)*int(210*pxPerMM))}
		left := 5.5 - float64(slant)
		for i := range pg.pix {
			edge := 148 - (float64(i%pg.w)+0.5)/pxPerMM
			y := float64(i/pg.w) / pxPerMM
			from := left + float64(slant)*(y-60)/7
			switch {
			case y >= 60 && y < 67 && edge >= from && edge < from+1:
				pg.pix[i] = pencil
			case edge < 6:
				pg.pix[i] = shade
			default:
				pg.pix[i] = paper
			}
		}
		p := piece{x0: int(141.5 * inkPxPerMM), x1: int((148-left)*inkPxPerMM) - 1, y0: 60 * inkPxPerMM, y1: 67*inkPxPerMM - 1}
		assert.False(t, pg.rimOfCover(p), "slanted by %d mm", slant)
	}
}
