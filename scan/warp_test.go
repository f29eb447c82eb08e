package scan

import (
	"image"
	"image/color"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// bentMap shows a sheet of 60 × 45 mm turned and slanted in a picture of 1,200 × 900 px, with a gentle bend.
func bentMap(rng *rand.Rand) *sheetMap {
	bend := newSpline(60, 45, lastSpacing)
	for i := range bend.cx {
		bend.cx[i], bend.cy[i] = 2*rng.Float64()-1, 2*rng.Float64()-1
	}
	return &sheetMap{flat: homography{15, -1.2, 120, 1.1, 16, 90, 2e-4, -1e-4, 1}, bend: bend}
}

func TestWarp_InStripsAndRegions_IsTheWholeAtOnce(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	photo := noise(t, 1200, 900, rng)
	side := &sheetmodel.Side{W: 60, H: 45}
	m := bentMap(rng)
	page, err := warp(photo.mat, m, side, 8, 16)
	require.NoError(t, err)
	defer page.Close()

	soft, whole := gocv.NewMat(), gocv.NewMat()
	mapX, mapY := gocv.NewMatWithSize(360, 480, gocv.MatTypeCV32F), gocv.NewMatWithSize(360, 480, gocv.MatTypeCV32F)
	for _, each := range []*gocv.Mat{&soft, &whole, &mapX, &mapY} {
		defer each.Close()
	}
	xs, err := mapX.DataPtrFloat32()
	require.NoError(t, err)
	ys, err := mapY.DataPtrFloat32()
	require.NoError(t, err)
	newNet(m, 480, 360, 8).fill(480, 0, 360, xs, ys)
	gocv.Blur(photo.mat, &soft, image.Pt(3, 3))
	gocv.Remap(soft, &whole, &mapX, &mapY, gocv.InterpolationLinear, gocv.BorderReplicate, color.RGBA{})
	got, err := page.DataPtrUint8()
	require.NoError(t, err)
	want, err := whole.DataPtrUint8()
	require.NoError(t, err)
	require.Len(t, got, len(want))
	for i := range got {
		// OpenCV rounds places to 1/32 px, which moving the origin may turn the other way.
		require.InDelta(t, want[i], got[i], 8, "px %d", i)
	}
}

func TestSplineRow_IsTheSpline(t *testing.T) {
	m := bentMap(rand.New(rand.NewPCG(7, 8)))
	s := m.bend.(*spline)
	row := s.row()
	for _, y := range []sheetmodel.MM{-1, 0, 9.99, 10, 31.4, 45, 46} {
		row.to(y)
		for _, x := range []sheetmodel.MM{-2, 0, 14.2, 60, 61} {
			dx, dy := row.at(x)
			wx, wy := s.at(sheetmodel.SheetPoint{X: x, Y: y})
			assert.InDelta(t, wx, dx, 1e-12)
			assert.InDelta(t, wy, dy, 1e-12)
		}
	}
}
