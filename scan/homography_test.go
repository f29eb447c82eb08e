package scan

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

func TestFitHomography_FourPairs_AreMetExactly(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	for range 200 {
		var pairs []PointPair
		for i, c := range corners(sheetmodel.Rect{X: 12, Y: 30, W: 8, H: 8}) {
			x, y := 100*float64([]int{0, 1, 1, 0}[i]), 100*float64(i/2)
			pairs = append(pairs, PointPair{Sheet: c, Photo: sheetmodel.PhotoPoint{X: 500 + x + 40*rng.Float64(), Y: 800 + y + 40*rng.Float64()}})
		}
		h, ok := fitHomography(pairs)
		require.True(t, ok)
		for _, p := range pairs {
			assert.InDelta(t, 0, distance(p.Photo, h.at(p.Sheet)), 1e-8)
		}
		// One more pair on the map changes nothing, whichever way it is fitted.
		mid := sheetmodel.SheetPoint{X: 16, Y: 34}
		again, ok := fitHomography(append(pairs, PointPair{Sheet: mid, Photo: h.at(mid)}))
		require.True(t, ok)
		far := sheetmodel.SheetPoint{X: 22, Y: 29}
		assert.InDelta(t, 0, distance(h.at(far), again.at(far)), 1e-5)
	}
}

func TestFitHomography_FourOnALine_AreRefused(t *testing.T) {
	var pairs []PointPair
	for i := range 4 {
		f := float64(i)
		pairs = append(pairs, PointPair{Sheet: sheetmodel.SheetPoint{X: sheetmodel.MM(f), Y: sheetmodel.MM(2 * f)}, Photo: sheetmodel.PhotoPoint{X: 9 * f, Y: 5 * f}})
	}
	_, ok := fitHomography(pairs)
	assert.False(t, ok)
}
