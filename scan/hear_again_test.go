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

// On a card without marks the corner of an empty frame is held by its two lines and nothing else. Here it has slid 4 mm along
// the upper one, and the right one isn't seen near it, as was met on a simulated photo of this card. The flat
// picture tells where both lie: nowhere else than printed. Source: the picture itself.
func TestHearAgain_AFramesCornerThatSlidAlongItsLine_IsPutBack(t *testing.T) {
	text, err := os.ReadFile("../testdata/blank-cards/landscape.yaml")
	require.NoError(t, err)
	layout, err := sheetmodel.ParseLayout("landscape.yaml", text)
	require.NoError(t, err)
	blank := gocv.IMRead("../testdata/blank-cards/landscape.png", gocv.IMReadGrayScale)
	defer blank.Close()
	forms, err := PrepareBlank(blank, layout, sheetmodel.Front, BlankOptions{})
	require.NoError(t, err)
	f := forms.faces[0]

	const pxPerMM, edge = 8.0, 40
	flat, photo := gocv.NewMat(), gocv.NewMat()
	defer flat.Close()
	defer photo.Close()
	gocv.Resize(blank, &flat, image.Pt(int(float64(f.side.W)*pxPerMM), int(float64(f.side.H)*pxPerMM)), 0, 0, gocv.InterpolationArea)
	gocv.CopyMakeBorder(flat, &photo, edge, edge, edge, edge, gocv.BorderConstant, color.RGBA{R: 90, G: 90, B: 90})
	pyr, err := newPyramid(photo, 300)
	require.NoError(t, err)
	defer pyr.close()

	w := &follower{face: f, fine: pyr.at(levelForPrint, pxPerMM), coarse: pyr.at(2, pxPerMM), group: &group{face: f}, net: make([]float32, coarseRoom)}
	w.flat = homography{pxPerMM, 0, edge, 0, pxPerMM, edge, 0, 0, 1}
	paper := sheetMap{flat: w.flat, bend: newSpline(f.side.W, f.side.H, 20)}
	patches := f.patches()
	w.places = make([]place, len(patches))
	w.score, w.shift = 0.6, 1.2
	var corner *place
	var lost []*place
	for i := range w.places {
		p := &w.places[i]
		*p = place{patch: &patches[i]}
		w.measure(p, &paper, true)
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

	w.hearAgain()
	w.walk()
	assert.True(t, corner.seen)
	assert.InDelta(t, right[0], corner.obs.d[0], 0.3)
	for _, p := range lost {
		assert.True(t, p.seen)
		assert.InDelta(t, 0, p.obs.d[0], 0.3)
	}
}
