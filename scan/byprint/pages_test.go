package byprint_test

import (
	"image"
	"image/draw"
	"os"
	"path/filepath"
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

const testPxPerMM = 6

func TestPages_ThreeForms_EachFoundAsItself(t *testing.T) {
	forms := threePrepared(t)
	all := joined(forms)
	for i, f := range forms {
		photo := flatShot(t, f.layout, uint64(20+i))
		o := judge(t, photo.JPEG, photo.View, f.layout, all)
		assert.Equal(t, "found", o.kind, "%s: %s", f.layout.Name, o.why)
		assert.True(t, o.page.ByPrint)
		assert.Less(t, percentile(o.errors, 1), 1.0, f.layout.Name)
	}
}

// flatShot is an ordinary photo of a filled form, small enough to be quick.
func flatShot(t *testing.T, l *sheetmodel.Layout, seed uint64) *camera.Photo {
	t.Helper()
	side := l.Side(sheetmodel.Front)
	return shoot(t, l, camera.Ordinary, seed, func(s *camera.Shot) {
		*s = camera.Flat(side.W, side.H, testPxPerMM)
		s.Seed = seed
	})
}

func TestPages_FormThatIsNotKnown_RefusedWithTheReason(t *testing.T) {
	forms := threePrepared(t)[1:]
	_, own := ownCards(t)
	photo := flatShot(t, plainTable(), 30)
	o := judge(t, photo.JPEG, photo.View, nil, joined(forms))
	assert.Equal(t, "refused", o.kind, o.why)
	assert.Equal(t, scan.FaultNoForm, o.fault)
	o = judge(t, photo.JPEG, photo.View, nil, own)
	assert.Equal(t, "refused", o.kind, o.why)
	assert.Equal(t, scan.FaultNoMarks, o.fault)
}

func TestPages_TwoCardsOfOneForm_BothFound(t *testing.T) {
	form := threePrepared(t)[2]
	side := form.layout.Side(sheetmodel.Front)
	one := print.RasterBlank(side, testPxPerMM)
	w, h := one.Rect.Dx(), one.Rect.Dy()
	both := image.NewGray(image.Rect(0, 0, w, 2*h))
	draw.Draw(both, one.Rect, one, image.Point{}, draw.Src)
	draw.Draw(both, one.Rect.Add(image.Pt(0, h)), one, image.Point{}, draw.Src)
	m := greyMat(t, both)
	defer m.Close()
	pages, err := scan.Pages(m, form.forms, scan.Options{})
	require.NoError(t, err)
	for _, p := range pages {
		defer p.Close()
	}
	require.Len(t, pages, 2)
	a, b := pages[0].PhotoFromSheet(sheetmodel.SheetPoint{}), pages[1].PhotoFromSheet(sheetmodel.SheetPoint{})
	assert.InDelta(t, float64(h), max(a.Y, b.Y)-min(a.Y, b.Y), 1)
}

func TestPrepareBlank_FromAPhotoOfTheForm_FindsIt(t *testing.T) {
	l := plainTable()
	side := l.Side(sheetmodel.Front)
	shot := camera.Flat(side.W, side.H, 8)
	shot.TiltDeg, shot.TiltDirDeg = 12, 40
	view := shot.View()
	photo, err := view.Take(camera.Sheet{Image: print.RasterBlank(side, 12), PxPerMM: 12}, 0)
	require.NoError(t, err)
	m := decoded(t, photo.JPEG)
	defer m.Close()
	corners := view.Corners()
	forms, err := scan.PrepareBlank(m, l, sheetmodel.Front, scan.BlankOptions{Corners: &corners})
	require.NoError(t, err)
	filled := flatShot(t, l, 40)
	o := judge(t, filled.JPEG, filled.View, l, forms)
	assert.Equal(t, "found", o.kind, o.why)
	assert.Less(t, percentile(o.errors, 1), 1.0)
}

func TestPrepareBlank_LooksAlikeUpsideDown_Refused(t *testing.T) {
	l := numberGrid()
	m := greyMat(t, print.RasterBlank(l.Side(sheetmodel.Front), 8))
	defer m.Close()
	_, err := scan.PrepareBlank(m, l, sheetmodel.Front, scan.BlankOptions{})
	var alike *scan.AlikeFormError
	require.ErrorAs(t, err, &alike)
	assert.NotZero(t, alike.Turn)
	assert.ErrorContains(t, err, "looks alike when turned by")
}

func TestPrepareBlank_EmptySheet_Refused(t *testing.T) {
	m := gocv.NewMatWithSizeFromScalar(gocv.NewScalar(250, 0, 0, 0), 1680, 1184, gocv.MatTypeCV8U)
	defer m.Close()
	_, err := scan.PrepareBlank(m, plainTable(), sheetmodel.Front, scan.BlankOptions{})
	var few *byprint.FewFeaturesError
	require.ErrorAs(t, err, &few)
}

func TestPages_NumberGrid_UprightPromised_FoundInAPhotoOfOurOwn(t *testing.T) {
	l, forms := gridForms(t)
	photo := flatShot(t, l, 50)
	o := judge(t, photo.JPEG, photo.View, l, forms)
	assert.Equal(t, "found", o.kind, o.why)
	assert.Less(t, percentile(o.errors, 1), 0.5)
}

// TestPages_PhotosOfNoForm_AllRefused shows photos of other things to all forms at once.
func TestPages_PhotosOfNoForm_AllRefused(t *testing.T) {
	root := os.Getenv("GATEFOLD_DATA")
	if root == "" {
		t.Skip("GATEFOLD_DATA is not set: no folder with real photos of other papers")
	}
	_, own := ownCards(t)
	all := joined(threePrepared(t)).And(own)
	var files []string
	for _, folder := range []string{"paper-photos", "sheet-photos", "newspaper-photos"} {
		some, err := filepath.Glob(filepath.Join(root, folder, "*.jpg"))
		require.NoError(t, err)
		require.NotEmpty(t, some, folder)
		files = append(files, some...)
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		require.NoError(t, err)
		m := decoded(t, b)
		pages, err := scan.Pages(m, all, scan.Options{})
		for _, p := range pages {
			require.NoError(t, p.Close())
		}
		require.NoError(t, m.Close())
		assert.Empty(t, pages, filepath.Base(f))
		assert.True(t, isRefused(err), filepath.Base(f))
		t.Logf("%s: %v", filepath.Base(f), err)
	}
}
