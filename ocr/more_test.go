package ocr

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// Pieces beside each other are characters; bars above, dots, and what is one above the other are not. Our own logic.
func TestStanding(t *testing.T) {
	at := func(x0, x1, y0, y1 float64) piece { // mm
		return piece{x0: int(x0 * inkPxPerMM), x1: int(x1 * inkPxPerMM), y0: int(y0 * inkPxPerMM), y1: int(y1 * inkPxPerMM)}
	}
	two := at(10, 13, 2, 7)
	assert.Zero(t, standing(nil))
	assert.Equal(t, 1, standing([]piece{two}))
	assert.Equal(t, 2, standing([]piece{two, at(8.5, 9, 2, 7)}), "a 1 beside a 2")
	assert.Equal(t, 2, standing([]piece{at(8.5, 10.1, 2, 7), two}), "they lean into each other")
	assert.Equal(t, 1, standing([]piece{two, at(12, 15, 1.8, 2.4)}), "the bar of a 5")
	assert.Equal(t, 1, standing([]piece{two, at(10.5, 12.5, 6, 9)}), "a stroke below")
	assert.Equal(t, 1, standing([]piece{at(10, 12, 2, 7), at(11.4, 12.4, 2.5, 7.5)}), "the two strokes of a 4")
	assert.Zero(t, standing([]piece{at(4, 5, 4, 6)}), "too small for a character")

	c := comb{ink: writing{own: []piece{two, at(8.5, 9, 2, 7)}}}
	short := sheetmodel.Reading{Text: "2", State: sheetmodel.Clear}
	c.doubtShort(&short)
	assert.Equal(t, sheetmodel.Doubtful, short.State)
	whole := sheetmodel.Reading{Text: "12", State: sheetmodel.Clear}
	c.doubtShort(&whole)
	assert.Equal(t, sheetmodel.Clear, whole.State)
}
