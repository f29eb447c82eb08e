package ocr_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan/camera/fill"
	"gatefold/sheetmodel"
)

// darken makes a page darker by share along a line from (x0, y0) to (x1, y1), in mm, as wide as a fold.
func darken(pix []byte, w int, x0, y0, x1, y1, share float64) {
	const s = pagePxPerMM
	h := len(pix) / w
	length := math.Hypot(x1-x0, y1-y0)
	for y := range h {
		for x := range w {
			mx, my := (float64(x)+0.5)/s-x0, (float64(y)+0.5)/s-y0
			along := (mx*(x1-x0) + my*(y1-y0)) / length
			off := (mx*(y1-y0) - my*(x1-x0)) / length
			if along < 0 || along > length {
				continue
			}
			pix[y*w+x] = byte(float64(pix[y*w+x]) * (1 - share*math.Exp(-off*off/(2*0.3*0.3))))
		}
	}
}

func TestRead_FoldedCard_NothingIsInventedAndNothingLost(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	side := layout().Side(sheetmodel.Front)
	w, h := float64(side.W), float64(side.H)
	for _, c := range []struct {
		name           string
		x0, y0, x1, y1 float64
	}{
		{"across, through row 4", 0, 99, w, 101}, {"along, through the codes", 66, 0, 69, h},
	} {
		t.Run(c.name, func(t *testing.T) {
			plan := cleanPlan()
			page := filled(t, sheetmodel.Front, plan, 2, nil)
			defer func() { require.NoError(t, page.Close()) }()
			pix, err := page.DataPtrUint8()
			require.NoError(t, err)
			darken(pix, page.Cols(), c.x0, c.y0, c.x1, c.y1, 0.07)
			got, err := r.Read(page, pagePxPerMM, side, nil)
			require.NoError(t, err)
			for i, row := range got.Rows {
				assert.Equal(t, i < len(plan.Rows), row.HasInk, "row %d", row.Number)
				assert.False(t, row.Struck, "row %d", row.Number)
				if i < len(plan.Rows) {
					assert.Equal(t, plan.Rows[i].Code, row.Code.Text, "row %d", row.Number)
				}
			}
		})
	}
}

// A line that ends inside the card is no fold, however straight: somebody drew it.
func TestRead_LineThatEndsInsideTheCard_IsInk(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	side := layout().Side(sheetmodel.Front)
	page := filled(t, sheetmodel.Front, fill.Plan{}, 2, nil)
	defer func() { require.NoError(t, page.Close()) }()
	pix, err := page.DataPtrUint8()
	require.NoError(t, err)
	darken(pix, page.Cols(), 16, 99, float64(side.W)-14, 101, 0.25)
	got, err := r.Read(page, pagePxPerMM, side, nil)
	require.NoError(t, err)
	assert.True(t, got.Rows[3].HasInk)
	assert.True(t, got.Rows[3].Struck)
}

// The stroke through a row may begin just under the one above it: that one is not struck.
func TestRead_StrokeThroughTheRowBelow_LeavesTheRowAboveAlone(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	side := layout().Side(sheetmodel.Front)
	below := side.Field("row-02.bib").Rect
	for _, fall := range []float64{0, 2, 4} {
		page := filled(t, sheetmodel.Front, cleanPlan(), 2, nil)
		pix, err := page.DataPtrUint8()
		require.NoError(t, err)
		top := float64(below.Y) + 1
		darken(pix, page.Cols(), 16, top, float64(side.W)-14, top+fall, 0.25)
		got, err := r.Read(page, pagePxPerMM, side, nil)
		require.NoError(t, err)
		require.NoError(t, page.Close())
		assert.False(t, got.Rows[0].Struck, "fall %g mm", fall)
		assert.True(t, got.Rows[1].Struck, "fall %g mm", fall)
	}
}
