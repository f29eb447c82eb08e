package scan

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// TestBestCreases_QuarterBeyondTheFoldUnseen_IsFoundWhereItLies folds a bowed sheet once; a quarter of it lies under
// a thumb's shadow, and of the rest one match in twenty is a row too low.
func TestBestCreases_QuarterBeyondTheFoldUnseen_IsFoundWhereItLies(t *testing.T) {
	const w, h, near = 210, 148, 24
	side := &sheetmodel.Side{W: w, H: h}
	for _, c := range []struct{ dirDeg, at, slopeX, slopeY float64 }{
		{0, 8, -0.2, 0.3}, {90, -5, 0.05, -0.4}, {91, 6, 0.3, 0.1}, {35, 20, 0.25, -0.2},
	} {
		rng := rand.New(rand.NewPCG(1, uint64(c.dirDeg)))
		sin, cos := math.Sincos(c.dirDeg * math.Pi / 180)
		truth := func(p sheetmodel.SheetPoint) (dx, dy float64) {
			u, v := float64(p.X)-w/2, float64(p.Y)-h/2
			beyond := max(0, u*cos+v*sin-c.at)
			return c.slopeX*beyond + 3*u*u/1e4, c.slopeY*beyond - 2*u*v/1e4
		}
		var obs []observation
		var unseen []sheetmodel.SheetPoint
		for y := 8.0; y < h; y += 8 {
			for x := 8.0; x < w; x += 8 {
				p := sheetmodel.SheetPoint{X: sheetmodel.MM(x), Y: sheetmodel.MM(y)}
				dx, dy := truth(p)
				if x > 0.6*w && y > 0.4*h {
					unseen = append(unseen, p)
					continue
				}
				if rng.IntN(20) == 0 {
					dy += 9 // a row
				}
				obs = append(obs, observation{p: p, d: [2]float64{dx + 0.1*rng.NormFloat64(), dy + 0.1*rng.NormFloat64()}})
			}
		}
		found := (&follower{face: &face{side: side}}).bestCreases(obs)
		require.NotEmpty(t, found)
		// One of those found will do: the print is asked which.
		best := math.Inf(1)
		for i := range found {
			worst := 0.0
			for _, p := range unseen {
				if p.X > 0.6*w+near && p.Y > 0.4*h+near {
					continue // a walk goes on from what is found
				}
				dx, dy := found[i].at(p)
				x, y := truth(p)
				worst = max(worst, math.Hypot(dx-x, dy-y))
			}
			best = min(best, worst)
		}
		assert.Less(t, best, 2.4, "%v: mm, within reach of the search for print", c)
	}
}

// TestFolded_SaysSoInItsRefusal: a person can flatten a folded card; "lay it flat" is no news for one that lies flat.
func TestFolded_SaysSoInItsRefusal(t *testing.T) {
	const w, h = 210, 148
	side := &sheetmodel.Side{W: w, H: h}
	var places []place
	for y := 8.0; y < h; y += 8 {
		for x := 8.0; x < w; x += 8 {
			places = append(places, place{patch: &patch{center: sheetmodel.SheetPoint{X: sheetmodel.MM(x), Y: sheetmodel.MM(y)}}, seen: true})
		}
	}
	sharp := &crease{mid: sheetmodel.SheetPoint{X: w / 2, Y: h / 2}, sin: 1}
	sharp.y[6] = 0.25 * creaseUnit
	bowed := &crease{mid: sheetmodel.SheetPoint{X: w / 2, Y: h / 2}, sin: 1, off: w}
	bowed.y[5] = 4 // mm at creaseUnit from the middle
	assert.True(t, folded(side, &sheetMap{bend: sharp}, places))
	assert.False(t, folded(side, &sheetMap{bend: bowed}, places))
	q := &Quality{PrintSeen: 0.7}
	assert.Equal(t, "the card is folded sharply and its print can't be followed over the fold: 70 % of it seen; flatten it and take it again", q.untrue(true).Error())
	assert.Contains(t, q.untrue(false).Error(), "lay the card flat")
	q = &Quality{PrintSeen: 0.9, Residual95: 1.2}
	assert.Contains(t, q.untrue(false).Error(), "in places it lies 1.2 mm off")
	assert.Nil(t, (&Quality{PrintSeen: 0.9, ResidualMM: 0.02, Residual95: 0.1}).untrue(true))
}
