package ocr

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// A card without boxes to tick is judged by how dark its numbers are; one with marks that were seen by those; and where
// neither tells, pale ink may be overlooked. Our own logic.
func TestPoor_NoBoxesToTick_TheNumbersTell(t *testing.T) {
	pg := &page{ink: &inkMap{noise: 3}, faint: &excess{}, side: &sheetmodel.Side{}}
	assert.True(t, pg.poor(), "nothing tells")
	pg.strokes = goodStroke + 1
	assert.False(t, pg.poor(), "plain numbers")
	pg.strokes = goodStroke - 1
	assert.True(t, pg.poor(), "pale ones")
	pg.faint.n, pg.faint.mark = 3, goodMark+1
	assert.False(t, pg.poor(), "marks tell better")
	pg.strokes, pg.faint.mark = goodStroke+1, goodMark-1
	assert.True(t, pg.poor(), "pale marks")
	pg = &page{ink: &inkMap{noise: goodNoise + 1}, faint: &excess{}, side: &sheetmodel.Side{}, strokes: goodStroke + 1}
	assert.True(t, pg.poor(), "grain")
}
