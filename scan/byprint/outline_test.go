package byprint_test

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/scan"
	"gatefold/scan/byprint"
	"gatefold/scan/camera"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// Expected values of this file: the simulated camera's own truth, and our own logic.

// blankPhoto is an ordinary photo of a blank card, upright, on a ground and as bent as one likes.
func blankPhoto(t *testing.T, l *sheetmodel.Layout, seed uint64, change func(*camera.Shot)) (gocv.Mat, *camera.View) {
	t.Helper()
	side := l.Side(sheetmodel.Front)
	rng := rand.New(rand.NewPCG(seed, 71))
	level := camera.Levels()[camera.Ordinary]
	level.TurnDeg = camera.Span{Min: -20, Max: 20}
	level.BendMM = camera.Span{}
	shot := level.Draw(camera.Scene{W: side.W, H: side.H}, rng)
	if shot.Ground == camera.Snow {
		shot.Ground = camera.Bench
	}
	change(&shot)
	view := shot.View()
	photo, err := view.Take(camera.Sheet{Image: print.RasterBlank(side, 20), PxPerMM: 20}, 1)
	require.NoError(t, err)
	m, _, err := scan.Decode("blank.jpg", photo.JPEG)
	require.NoError(t, err)
	return m, view
}

// outlineOff is how far off the worst corner is, in mm; negative if the photo was refused.
func outlineOff(t *testing.T, l *sheetmodel.Layout, seed uint64, change func(*camera.Shot)) float64 {
	t.Helper()
	m, view := blankPhoto(t, l, seed, change)
	defer m.Close()
	side := l.Side(sheetmodel.Front)
	got, err := byprint.Outline(m, side.W, side.H)
	if err != nil {
		var refused *byprint.OutlineError
		require.ErrorAs(t, err, &refused)
		return -1
	}
	corners := []sheetmodel.SheetPoint{{}, {X: side.W}, {X: side.W, Y: side.H}, {Y: side.H}}
	worst := 0.0
	for k, p := range corners {
		want, next := view.PhotoFromSheet(p), view.PhotoFromSheet(corners[(k+1)%4])
		edge := float64(side.W)
		if k%2 == 1 {
			edge = float64(side.H)
		}
		pxPerMM := math.Hypot(next.X-want.X, next.Y-want.Y) / edge
		worst = max(worst, math.Hypot(got[k].X-want.X, got[k].Y-want.Y)/pxPerMM)
	}
	return worst
}

// A blank card that lies flat on something darker is straightened by its edge, or refused; never wrongly.
func TestOutline_FlatCardOnSomethingDark_CornersAreFoundOrRefused(t *testing.T) {
	found, all := 0, 0
	for i, l := range []*sheetmodel.Layout{plainTable(), twoColumns(), withPicture()} {
		for seed := range uint64(4) {
			off := outlineOff(t, l, 100*uint64(i)+seed, func(*camera.Shot) {})
			t.Logf("%s, photo %d: %.2f mm off", l.Name, seed, off)
			all++
			if off >= 0 {
				found++
			}
			assert.Less(t, off, 1.5, "%s, photo %d", l.Name, seed)
		}
	}
	t.Logf("%d of %d found", found, all)
	assert.GreaterOrEqual(t, 4*found, 3*all)
}

// A bend that leaves the edges straight isn't seen here: ruled lines tell of it, see sheetmodel/propose.
func TestOutline_BentCardOrSnow_NoWrongCorner(t *testing.T) {
	refused := 0
	for seed := range uint64(4) {
		off := outlineOff(t, plainTable(), seed, func(s *camera.Shot) { s.Ground = camera.Snow })
		assert.Less(t, off, 1.5, "on snow, photo %d", seed)
		m, _ := blankPhoto(t, plainTable(), seed, func(s *camera.Shot) { s.Bend.HeightMM = 18; s.Bend.Bow = 1 })
		_, err := byprint.Outline(m, 148, 210)
		_ = m.Close()
		if err != nil {
			refused++
		}
	}
	assert.GreaterOrEqual(t, refused, 3, "of 4 bent by 18 mm")
}

func TestOutline_OtherShape_IsNamed(t *testing.T) {
	m, _ := blankPhoto(t, plainTable(), 1, func(*camera.Shot) {})
	defer m.Close()
	_, err := byprint.Outline(m, 210, 148)
	assert.ErrorContains(t, err, "a card of 210 × 148 mm")
}

func TestFillsIt_CutScanAndPhoto_AreToldApart(t *testing.T) {
	scanned := greyMat(t, print.RasterBlank(plainTable().Side(sheetmodel.Front), 8))
	defer scanned.Close()
	assert.True(t, byprint.FillsIt(scanned, 148, 210))
	assert.False(t, byprint.FillsIt(scanned, 210, 148))
	m, _ := blankPhoto(t, plainTable(), 1, func(*camera.Shot) {})
	defer m.Close()
	assert.False(t, byprint.FillsIt(m, 148, 210))
}

// A league's card with a dark band along its upper edge fills its PDF's page; a photo of one on a dark table doesn't, nor does a page
// that is dark all round. Source: own logic.
func TestFillsPage_ABandOfPrintAlongOneEdge_IsStillTheCard(t *testing.T) {
	page := func(bands ...image.Rectangle) gocv.Mat {
		img := print.RasterBlank(plainTable().Side(sheetmodel.Front), 8)
		for _, b := range bands {
			draw.Draw(img, b, image.NewUniform(color.Gray{Y: 40}), image.Point{}, draw.Src)
		}
		return greyMat(t, img)
	}
	w, h := 148*8, 210*8
	top, left := image.Rect(0, 0, w, 110), image.Rect(0, 0, 60, h)
	band, two := page(top), page(top, left)
	defer band.Close()
	defer two.Close()
	assert.False(t, byprint.FillsIt(band, 148, 210), "a picture may be of a table")
	assert.True(t, byprint.FillsPage(band, 148, 210))
	assert.False(t, byprint.FillsPage(band, 210, 148))
	assert.False(t, byprint.FillsPage(two, 148, 210))
	photo, _ := blankPhoto(t, plainTable(), 1, func(*camera.Shot) {})
	defer photo.Close()
	assert.False(t, byprint.FillsPage(photo, 148, 210))
}
