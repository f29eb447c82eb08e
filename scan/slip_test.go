package scan

import (
	"image"
	"image/color"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// listWalked is a walk over a flat picture of a list of printed bibs without marks, all of it found where it lies.
func listWalked(t *testing.T) (w *follower, paper *sheetMap, rowMM float64) {
	t.Helper()
	text, err := os.ReadFile("../testdata/blank-cards/every-racer.yaml")
	require.NoError(t, err)
	layout, err := sheetmodel.ParseLayout("every-racer.yaml", text)
	require.NoError(t, err)
	blank := gocv.IMRead("../testdata/blank-cards/every-racer.png", gocv.IMReadGrayScale)
	t.Cleanup(func() { _ = blank.Close() })
	forms, err := PrepareBlank(blank, layout, sheetmodel.Front, BlankOptions{})
	require.NoError(t, err)
	f := forms.faces[0]

	const pxPerMM, edge = 8.0, 40
	flat, photo := gocv.NewMat(), gocv.NewMat()
	t.Cleanup(func() { _, _ = flat.Close(), photo.Close() })
	gocv.Resize(blank, &flat, image.Pt(int(float64(f.side.W)*pxPerMM), int(float64(f.side.H)*pxPerMM)), 0, 0, gocv.InterpolationArea)
	gocv.CopyMakeBorder(flat, &photo, edge, edge, edge, edge, gocv.BorderConstant, color.RGBA{R: 90, G: 90, B: 90})
	pyr, err := newPyramid(photo, 300)
	require.NoError(t, err)
	t.Cleanup(pyr.close)

	w = &follower{face: f, fine: pyr.at(levelForPrint, pxPerMM), coarse: pyr.at(2, pxPerMM), group: &group{face: f}, net: make([]float32, coarseRoom)}
	w.flat = homography{pxPerMM, 0, edge, 0, pxPerMM, edge, 0, 0, 1}
	paper = &sheetMap{flat: w.flat, bend: newSpline(f.side.W, f.side.H, 20)}
	patches := f.patches()
	w.places = make([]place, len(patches))
	w.score, w.shift = 0.6, 1.2
	for i := range w.places {
		w.places[i] = place{patch: &patches[i]}
		w.measure(&w.places[i], paper, true)
		require.True(t, w.places[i].seen)
	}
	first, second := f.side.RowFields(1), f.side.RowFields(2)
	return w, paper, float64(second[0].Rect.Y - first[0].Rect.Y)
}

// Of rows that look alike the number beside them tells which is which. Source: the picture itself.
func TestDropSlipped_RowsFoundARowTooLow_AreNotSeen(t *testing.T) {
	w, paper, row := listWalked(t)
	assert.Zero(t, w.dropSlipped(paper), "a list that lies right")

	slipped := func(p *place) bool {
		c := p.patch.center
		return c.X > 20 && c.X < 100 && c.Y > 120 && c.Y < 260
	}
	n := 0
	for i := range w.places {
		if p := &w.places[i]; slipped(p) {
			p.obs.d[1] += row
			n++
		}
	}
	require.Greater(t, n, 100)
	w.dropSlipped(paper)
	for i := range w.places {
		p := &w.places[i]
		assert.Equal(t, !slipped(p), p.seen, "%v", p.patch.center)
	}
}

// A steep view moves print by centimetres off where the walk began: that is no tear. Source: the picture itself.
func TestDropSlipped_WalkThatBeganAtAnotherSlant_KeepsAll(t *testing.T) {
	w, _, _ := listWalked(t)
	slant := &sheetMap{flat: w.flat, bend: affine{}}
	slant.flat[1], slant.flat[5] = slant.flat[1]+0.2*slant.flat[0], slant.flat[5]*1.1
	inverse, ok := slant.flat.inverse()
	require.True(t, ok)
	for i := range w.places {
		p := &w.places[i]
		right := (&sheetMap{flat: w.flat, bend: affine{}}).at(p.obs.p)
		at := inverse.back(right)
		p.obs.d = [2]float64{float64(at.X - p.obs.p.X), float64(at.Y - p.obs.p.Y)}
	}
	w.flat = slant.flat
	bent, err := w.fit(slant, 14, 60, []float64{8})
	require.NoError(t, err)
	n := w.dropSlipped(&bent)
	for i := range w.places {
		if !w.places[i].seen {
			t.Log(w.places[i].patch.center)
		}
	}
	assert.LessOrEqual(t, n, 4, "of %d", len(w.places))
}
