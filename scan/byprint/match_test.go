package byprint

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

func TestVote_MostPairsWrong_FindsThoseThatAgree(t *testing.T) {
	var pairs []pair
	// Forty places seen turned by 0.5 rad at 4 px/mm, and twice as many that mean nothing.
	sin, cos := math.Sincos(0.5)
	for i := range 40 {
		x, y := float64(10+i%8*15), float64(12+i/8*30)
		pairs = append(pairs, pair{
			feature{x: x, y: y, size: 3, angle: 0.2},
			feature{x: 300 + 4*(cos*x-sin*y), y: 200 + 4*(sin*x+cos*y), size: 12, angle: 0.7},
		})
	}
	for i := range 80 {
		pairs = append(pairs, pair{
			feature{x: float64(i * 37 % 140), y: float64(i * 53 % 200), size: 2 + float64(i%5), angle: float64(i % 6)},
			feature{x: float64(i * 97 % 1200), y: float64(i * 71 % 900), size: 5 + float64(i%17), angle: float64(i*5%6) + 0.3},
		})
	}
	agree := vote(pairs)
	right := 0
	for _, p := range agree {
		for _, q := range pairs[:40] {
			if p == q {
				right++
			}
		}
	}
	assert.Equal(t, 40, right)
	assert.Less(t, len(agree), 48, "few of the others agree by chance")
	m, used, err := (&Form{W: 148, H: 210}).fit(agree)
	require.NoError(t, err)
	assert.GreaterOrEqual(t, len(used), 40)
	assert.InDelta(t, 300, m.Flat[2]/m.Flat[8], 0.5)
	assert.InDelta(t, 200, m.Flat[5]/m.Flat[8], 0.5)
}

func TestVote_TooFewAgree_Nothing(t *testing.T) {
	var pairs []pair
	for i := range fewestInliers - 1 {
		pairs = append(pairs, pair{feature{x: float64(i) * 10, size: 1}, feature{x: float64(i) * 40, size: 4}})
	}
	assert.Nil(t, vote(pairs))
}

func TestMatch_MirroredOrBehindTheCamera_IsNoPaper(t *testing.T) {
	upright := Match{Flat: [9]float64{5, 0, 10, 0, 5, 10, 0, 0, 1}}
	assert.True(t, upright.paper(148, 210))
	mirrored := Match{Flat: [9]float64{-5, 0, 900, 0, 5, 10, 0, 0, 1}}
	assert.False(t, mirrored.paper(148, 210))
	behind := Match{Flat: [9]float64{5, 0, 10, 0, 5, 10, 0, -0.01, 1}}
	assert.False(t, behind.paper(148, 210))
	stretched := Match{Flat: [9]float64{50, 0, 10, 0, 5, 10, 0, 0, 1}}
	assert.False(t, stretched.paper(148, 210))
}

func TestFourCorners_RoundedFrame_KeepsItsCorners(t *testing.T) {
	outline := [][2]float64{{1, 0}, {50, -1}, {99, 0}, {100, 1}, {101, 80}, {100, 159}, {99, 160}, {50, 161}, {1, 160}, {0, 159}}
	quad, ok := fourCorners(convexHull(outline))
	require.True(t, ok)
	for _, want := range [4][2]float64{{0, 0}, {100, 0}, {100, 160}, {0, 160}} {
		near := math.Inf(1)
		for _, got := range quad {
			near = min(near, math.Hypot(got[0]-want[0], got[1]-want[1]))
		}
		assert.LessOrEqual(t, near, 1.5)
	}
}

func TestFlatten_ShadedPhoto_PaperWhiteAndPrintBlack(t *testing.T) {
	// A sheet of 100 × 80 mm at 10 px/mm, twice as bright on the right, with a line at x = 50 mm half as dark as paper.
	const w, h = 1000, 800
	m := gocv.NewMatWithSize(h, w, gocv.MatTypeCV8U)
	defer m.Close()
	pix, err := m.DataPtrUint8()
	require.NoError(t, err)
	for y := range h {
		for x := range w {
			g := 100 + 100*float64(x)/w
			if x >= 495 && x < 505 {
				g *= 0.5
			}
			pix[y*w+x] = uint8(g)
		}
	}
	page, err := Flatten(m, nil, 100, 80, 5)
	require.NoError(t, err)
	defer page.Close()
	require.Equal(t, [2]int{500, 400}, [2]int{page.Cols(), page.Rows()})
	at := func(x, y sheetmodel.MM) int {
		p := sheetmodel.PageFromSheet(sheetmodel.SheetPoint{X: x, Y: y}, 5)
		return int(page.GetUCharAt(int(math.Round(p.Y)), int(math.Round(p.X))))
	}
	assert.Greater(t, at(10, 40), 225)
	assert.Greater(t, at(90, 40), 225)
	assert.Less(t, at(50, 40), 60)
}

func TestPrepare_EmptyPage_TooFewFeatures(t *testing.T) {
	m := gocv.NewMatWithSizeFromScalar(gocv.NewScalar(255, 0, 0, 0), 400, 300, gocv.MatTypeCV8U)
	defer m.Close()
	_, err := Prepare(m, 60, 80)
	var few *FewFeaturesError
	require.ErrorAs(t, err, &few)
	assert.Zero(t, few.Seen)
	colour := gocv.NewMatWithSize(10, 10, gocv.MatTypeCV8UC3)
	defer colour.Close()
	_, err = Prepare(colour, 60, 80)
	assert.ErrorIs(t, err, errNotGrey)
}

func TestLook_NothingToSee_NoMatch(t *testing.T) {
	m := gocv.NewMatWithSizeFromScalar(gocv.NewScalar(90, 0, 0, 0), 300, 300, gocv.MatTypeCV8U)
	defer m.Close()
	p, err := Look(m, 1)
	require.NoError(t, err)
	defer func() { assert.NoError(t, p.Close()) }()
	matches, err := (&Form{W: 148, H: 210}).Match(p)
	require.NoError(t, err)
	assert.Empty(t, matches)
	assert.Empty(t, (&Form{W: 148, H: 210}).MatchFrames(p))
}
