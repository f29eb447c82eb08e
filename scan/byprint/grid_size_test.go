package byprint_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// How large the printed grids were is not known, and blur is judged in mm: the same photo of a smaller grid is the
// sharper one. This is the grid with cells of 7 mm instead of 9, to tell a photo that can't be registered from one
// that is only called blurred.
func TestPages_NewspaperPhotos_OfASmallerGrid(t *testing.T) {
	const share = 7.0 / gridCell
	truth := readTruth(t, "newspaper-photos", "newspaper.json")
	l := numberGrid()
	side := &l.Sides[0]
	side.W, side.H = side.W*share, side.H*share
	for i := range side.Fields {
		r := &side.Fields[i].Rect
		r.X, r.Y, r.W, r.H = r.X*share, r.Y*share, r.W*share, r.H*share
	}
	for _, item := range side.Print {
		for i := range item.Line {
			item.Line[i] = sheetmodel.SheetPoint{X: item.Line[i].X * share, Y: item.Line[i].Y * share}
		}
	}
	m := greyMat(t, print.RasterBlank(side, 8/share))
	defer m.Close()
	forms, err := scan.PrepareBlank(m, l, sheetmodel.Front, scan.BlankOptions{Upright: true})
	require.NoError(t, err)
	for _, e := range truth {
		r := register(t, "newspaper-photos", e, forms)
		t.Logf("%s: %s %s; cells off by up to %.2f, ink agrees in %d of 81, gap %.2f", e.File, r.fault, r.why, r.worst, r.agree, r.inkGap)
		if r.fault == "" {
			assert.Less(t, r.worst, 0.25, "%s: a cell lies elsewhere", e.File)
		}
	}
}
