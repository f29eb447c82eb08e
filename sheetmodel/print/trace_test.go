package print_test

import (
	"image"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// What was traced must be drawn as it was seen. Our own logic.
func TestTrace_DrawnAgain_IsTheSamePicture(t *testing.T) {
	side := *sheetmodel.BuiltinLayouts()[0].Side(sheetmodel.Front)
	want := print.RasterBlank(&side, 6)
	traced := sheetmodel.Side{Name: side.Name, W: side.W, H: side.H, Print: print.Trace(want, 6)}
	got := print.RasterBlank(&traced, 6)
	assert.Equal(t, want.Rect, got.Rect)
	worst := 0
	for i := range want.Pix {
		d := int(want.Pix[i]) - int(got.Pix[i])
		worst = max(worst, d, -d)
	}
	assert.LessOrEqual(t, worst, 34, "an eighth of black, and rounding")
	assert.Empty(t, print.Trace(image.NewGray(image.Rect(0, 0, 0, 0)), 6))
}
