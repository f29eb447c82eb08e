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

// flatWalk is a walk over a flat picture of a blank card without marks of testdata/blank-cards, nothing of it sought yet, and where
// all of it lies.
func flatWalk(t *testing.T, card string) (w *follower, paper *sheetMap) {
	t.Helper()
	text, err := os.ReadFile("../testdata/blank-cards/" + card + ".yaml")
	require.NoError(t, err)
	layout, err := sheetmodel.ParseLayout(card+".yaml", text)
	require.NoError(t, err)
	blank := gocv.IMRead("../testdata/blank-cards/"+card+".png", gocv.IMReadGrayScale)
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
	patches := f.patches()
	w.places = make([]place, len(patches))
	for i := range w.places {
		w.places[i] = place{patch: &patches[i]}
	}
	return w, &sheetMap{flat: w.flat, bend: newSpline(f.side.W, f.side.H, 20)}
}

// slidCorner is a walk over a flat picture of a card without marks, on which the corner of an empty frame, held by its two
// lines and nothing else, has slid 4 mm along the upper one, and the right one isn't seen near it, as was met on simulated
// photos of this card. back fails the test unless both lie where they are printed. Source: the picture itself.
func slidCorner(t *testing.T) (w *follower, back func()) {
	t.Helper()
	w, paper := flatWalk(t, "landscape")
	w.score, w.shift = 0.6, 1.2
	var corner *place
	var lost []*place
	for i := range w.places {
		p := &w.places[i]
		w.measure(p, paper, true)
		c := p.patch.center
		switch {
		case c.X > 195 && c.Y < 24:
			corner = p
		case c.X > 195 && c.Y < 40:
			lost = append(lost, p)
		}
	}
	require.NotNil(t, corner)
	require.NotEmpty(t, lost)
	right := corner.obs.d
	require.True(t, corner.seen)
	corner.obs.d[0], corner.score = corner.obs.d[0]-4, 0.78
	for _, p := range lost {
		require.True(t, p.seen)
		p.seen, p.score = false, -1
	}
	return w, func() {
		t.Helper()
		assert.True(t, corner.seen)
		assert.InDelta(t, right[0], corner.obs.d[0], 0.3)
		for _, p := range lost {
			assert.True(t, p.seen)
			assert.InDelta(t, 0, p.obs.d[0], 0.3)
		}
	}
}

func TestHearAgain_AFramesCornerThatSlidAlongItsLine_IsPutBack(t *testing.T) {
	w, back := slidCorner(t)
	w.hearAgain()
	w.walk()
	back()
}

// Where the map has followed it, nothing beside it leads back: the whole card is asked, be it for one place that is lost.
func TestAskAll_OnACardWithoutMarks_IsAskedForOneLostPlace(t *testing.T) {
	w, back := slidCorner(t)
	for _, p := range suspects(w.places) {
		p.seen = false
	}
	require.Equal(t, 1, w.countLost())
	w.askAll()
	back()
}
