package ocr

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// A high field is read where its writing stands, and whole where that is not known or needs the room. Nothing beyond the field is
// read, and nothing of the ink is left out. Expected values: our own logic.
func TestBandOf_HighFieldsWhereTheirInkStands(t *testing.T) {
	high := sheetmodel.Rect{X: 10, Y: 40, W: 22, H: 12.5}
	ink := func(y, h sheetmodel.MM) sheetmodel.Rect { return sheetmodel.Rect{X: 12, Y: y, W: 9, H: h} }
	band := bandOf(high, ink(43, 5))
	assert.Equal(t, sheetmodel.Rect{X: 10, Y: 40.75, W: 22, H: 9.5}, band)
	for _, y := range []sheetmodel.MM{39, 40, 42, 46, 49} {
		for _, h := range []sheetmodel.MM{1, 4, 8.9} {
			b, r := bandOf(high, ink(y, h)), ink(y, h)
			assert.True(t, b.Y >= high.Y && b.Y+b.H <= high.Y+high.H, "beyond the field")
			top, bottom := max(r.Y, high.Y), min(r.Y+r.H, high.Y+high.H)
			assert.True(t, b.Y <= top && b.Y+b.H >= bottom, "ink from %.1f to %.1f mm is left out of %+v", top, bottom, b)
		}
	}
	assert.Equal(t, high, bandOf(high, ink(40.5, 10)), "writing that needs the room")
	assert.Equal(t, high, bandOf(high, sheetmodel.Rect{}), "no ink that is seen")
	low := sheetmodel.Rect{X: 10, Y: 40, W: 22, H: 11}
	assert.Equal(t, low, bandOf(low, ink(43, 3)))
}
