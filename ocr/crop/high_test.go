package crop

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// A high field is shown twice, each time larger, and all of its ink is in what is shown. Our own logic.
func TestLooks_OfAHighField_HoldItsInkAndShowItLarger(t *testing.T) {
	const px = 8.0
	for _, inkY := range []float64{3, 7, 11.5} { // middle of the ink, mm from the field's top
		field := sheetmodel.Rect{X: 10, Y: 10, W: 22.5, H: 14.5}
		w, h := 360, 280
		pix := make([]byte, w*h)
		for i := range pix {
			pix[i] = 220
		}
		dark := func(x0, y0, x1, y1 float64, v byte) {
			for y := int(y0 * px); y < int(y1*px); y++ {
				for x := int(x0 * px); x < int(x1*px); x++ {
					pix[y*w+x] = v
				}
			}
		}
		for _, y := range []float64{10, 24.5} { // its lines
			dark(10, y-0.1, 32.5, y+0.1, 60)
		}
		for _, x := range []float64{10, 32.5} {
			dark(x-0.1, 10, x+0.1, 24.5, 60)
		}
		dark(13, 10+inkY-2, 13.5, 10+inkY+2, 150)
		dark(15, 10+inkY-2, 15.5, 10+inkY+2, 150)
		p := Page{Pix: pix, Stride: w, W: w, H: h, PxPerMM: px}
		got := Looks(p, field)
		require.Len(t, got, 2)
		assert.Equal(t, field.Grow(-highRimMM), got[0])
		for _, r := range got {
			assert.Greater(t, stripScale(r), stripScale(field))
		}
		band := got[1]
		assert.InDelta(t, bandMM, float64(band.H), 1e-9)
		assert.LessOrEqual(t, float64(band.Y), 10+inkY-2+0.1, "ink at %v", inkY)
		assert.GreaterOrEqual(t, float64(band.Y+band.H), 10+inkY+2-0.1, "ink at %v", inkY)
		assert.GreaterOrEqual(t, float64(band.Y), float64(field.Y))
		assert.LessOrEqual(t, float64(band.Y+band.H), float64(field.Y+field.H))
	}
}

// A field as high as those of the gate card is shown as it is, and an empty high one around its middle. Our own logic.
func TestLooks_OfALowField_IsTheField(t *testing.T) {
	pix := make([]byte, 400*400)
	for i := range pix {
		pix[i] = 200
	}
	p := Page{Pix: pix, Stride: 400, W: 400, H: 400, PxPerMM: 8}
	low := sheetmodel.Rect{X: 10, Y: 10, W: 24, H: 9.5}
	assert.Equal(t, []sheetmodel.Rect{low}, Looks(p, low))
	narrow := sheetmodel.Rect{X: 10, Y: 10, W: 3, H: 12}
	assert.Equal(t, []sheetmodel.Rect{narrow}, Looks(p, narrow))
	high := sheetmodel.Rect{X: 10, Y: 10, W: 24, H: 13}
	band := Looks(p, high)[1]
	assert.InDelta(t, float64(high.Center().Y), float64(band.Center().Y), 1e-9)
}
