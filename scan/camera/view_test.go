package camera

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

func TestSheetFromPhoto_OfPhotoFromSheet_ComesBack(t *testing.T) {
	const most = 0.02 // mm
	for name, l := range Levels() {
		rng := rand.New(rand.NewPCG(2, 9))
		worst := 0.0
		for range 150 {
			s := l.Draw(testScene(), rng)
			v := s.View()
			for range 60 {
				p := sheetmodel.SheetPoint{X: testW * sheetmodel.MM(rng.Float64()), Y: testH * sheetmodel.MM(rng.Float64())}
				q, ok := v.SheetFromPhoto(v.PhotoFromSheet(p))
				require.True(t, ok)
				worst = math.Max(worst, math.Hypot(float64(q.X-p.X), float64(q.Y-p.Y)))
			}
		}
		t.Logf("%s: worst %.5f mm", name, worst)
		assert.Less(t, worst, most, name)
	}
}

// TestCorner_BetweenCorners_IsWhatTheMapSays checks the interpolation that render uses inside a tile.
func TestCorner_BetweenCorners_IsWhatTheMapSays(t *testing.T) {
	for _, name := range []string{Ordinary, Hard} {
		l := Levels()[name]
		rng := rand.New(rand.NewPCG(2, 10))
		worst := 0.0
		for range 60 {
			s := l.Draw(testScene(), rng)
			v := s.View()
			for range 40 {
				p := sheetmodel.SheetPoint{X: testW * sheetmodel.MM(rng.Float64()), Y: testH * sheetmodel.MM(rng.Float64())}
				at := v.PhotoFromSheet(p)
				x, y := math.Floor(at.X/tile)*tile, math.Floor(at.Y/tile)*tile
				a, b := v.corner(x, y), v.corner(x+tile, y)
				c, d := v.corner(x, y+tile), v.corner(x+tile, y+tile)
				left, right := lerpCorner(&a, &c, float32(at.Y-y)/tile), lerpCorner(&b, &d, float32(at.Y-y)/tile)
				k := lerpCorner(&left, &right, float32(at.X-x)/tile)
				worst = math.Max(worst, math.Hypot(float64(k.x)-float64(p.X), float64(k.y)-float64(p.Y)))
			}
		}
		t.Logf("%s: worst %.4f mm", name, worst)
		assert.Less(t, worst, 0.05, name)
	}
}

func TestSurface_Rolled_KeepsLengths(t *testing.T) {
	s := newSurface(148, 210, Bend{DirDeg: 30, HeightMM: 8, Bow: 1, Curl: 0.5, FoldDeg: 20, FoldDir: 1})
	rng := rand.New(rand.NewPCG(1, 3))
	for range 500 {
		x, y, a := 70*(2*rng.Float64()-1), 100*(2*rng.Float64()-1), 2*math.Pi*rng.Float64()
		const d = 1e-3
		x0, y0, h0 := s.at(x, y)
		x1, y1, h1 := s.at(x+d*math.Cos(a), y+d*math.Sin(a))
		got := math.Sqrt((x1-x0)*(x1-x0)+(y1-y0)*(y1-y0)+(h1-h0)*(h1-h0)) / d
		assert.InDelta(t, 1, got, 1e-3)
	}
}

func TestView_Turned_TurnsClockwise(t *testing.T) {
	s := Flat(testW, testH, 10)
	s.TurnDeg = 90
	v := s.View()
	a, b := v.PhotoFromSheet(sheetmodel.SheetPoint{}), v.PhotoFromSheet(sheetmodel.SheetPoint{X: testW})
	assert.InDelta(t, a.X, b.X, 1e-6, "the top edge stands upright")
	assert.Greater(t, b.Y, a.Y, "and runs down")
}

func TestView_Tilted_RecedesInItsDirection(t *testing.T) {
	s := Flat(testW, testH, 10)
	s.TiltDeg, s.TiltDirDeg = 30, 0
	c := s.View().Corners()
	left, right := c[3].Y-c[0].Y, c[2].Y-c[1].Y
	assert.Greater(t, left, right*1.1, "the right edge is farther")
}
