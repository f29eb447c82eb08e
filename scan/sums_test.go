package scan

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// What the C code sums in lanes is what one loop sums.

func TestPatches_FitTheRoomOfTheSums(t *testing.T) {
	// The C code holds a patch in fixed rooms: 48 × 48 fine samples, 25 × 25 coarse ones.
	for _, l := range sheetmodel.BuiltinLayouts() {
		forms, err := Prepare(l)
		require.NoError(t, err)
		for _, f := range forms.faces {
			for i := range f.patches() {
				p := &f.patches()[i]
				assert.LessOrEqual(t, len(p.fine), 48*48)
				for _, s := range p.coarse {
					assert.LessOrEqual(t, max(s.ix, -s.ix, s.iy, -s.iy), int16(coarseWindow))
				}
			}
		}
	}
}

// noise returns a level of noise that is smooth over 2 px.
func noise(t *testing.T, w, h int, rng *rand.Rand) *view {
	t.Helper()
	m := gocv.NewMatWithSize(h, w, gocv.MatTypeCV8U)
	t.Cleanup(func() { _ = m.Close() })
	pix, err := m.DataPtrUint8()
	require.NoError(t, err)
	for i := range pix {
		pix[i] = uint8(rng.IntN(256))
		if i > w {
			pix[i] = uint8((int(pix[i]) + int(pix[i-1]) + int(pix[i-w])) / 3)
		}
	}
	return &view{mat: m, pix: pix, w: w, h: h, sx: 1, sy: 1}
}

func somePatch(t *testing.T) *patch {
	t.Helper()
	forms, err := Prepare(sheetmodel.BuiltinLayouts()[0])
	require.NoError(t, err)
	ps := forms.faces[0].patches()
	return &ps[len(ps)/2]
}

func TestCorrelate_IsThePlainSum(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	v, p := noise(t, 120, 90, rng), somePatch(t)
	// The second lies over the picture's edge, where the edge goes on.
	for _, at := range []tangent{{x0: 60, xu: 3, xv: 0.4, y0: 45, yu: -0.3, yv: 2.8}, {x0: 4, xu: 3, xv: 0.4, y0: 85, yu: -0.3, yv: 2.8}} {
		sums, squares, crosses := correlate(v, &at, p.coarse, make([]float32, coarseRoom))
		for sy := -coarseReach; sy <= coarseReach; sy++ {
			for sx := -coarseReach; sx <= coarseReach; sx++ {
				var sum, square, cross float64
				for _, s := range p.coarse {
					g := v.grey(at.at(float64(int(s.ix)+sx)/coarsePxPer, float64(int(s.iy)+sy)/coarsePxPer)) - 128
					sum, square, cross = sum+g, square+g*g, cross+g*float64(s.ink)
				}
				i := (sy+coarseReach)*shiftLanes + sx + coarseReach
				assert.InDelta(t, sum, sums[i], 5) // of thousands: at the edge a thousandth of the next px remains
				assert.InEpsilon(t, square, squares[i], 5e-3)
				assert.InDelta(t, cross, crosses[i], 5)
			}
		}
	}
}

func TestSeekFine_FindsAShiftThatWasMade(t *testing.T) {
	p := somePatch(t)
	// The patch itself, seen at 6 px/mm on grey paper, 0.31 mm to the right and 0.17 mm up.
	const pxPerMM, dx, dy = 6.0, 0.31, -0.17
	forms, err := Prepare(sheetmodel.BuiltinLayouts()[0])
	require.NoError(t, err)
	b := forms.faces[0].blank
	v := noise(t, 100, 100, rand.New(rand.NewPCG(1, 2)))
	for y := range v.h {
		for x := range v.w {
			u := float64(p.center.X) + (float64(x)-50)/pxPerMM - dx
			w := float64(p.center.Y) + (float64(y)-50)/pxPerMM - dy
			at := sheetmodel.PageFromSheet(sheetmodel.SheetPoint{X: sheetmodel.MM(u), Y: sheetmodel.MM(w)}, blankPxPerMM)
			ix, iy := int(at.X), int(at.Y)
			fx, fy := float32(at.X-float64(ix)), float32(at.Y-float64(iy))
			i := iy*b.w + ix
			ink := (b.ink[i]*(1-fx)+b.ink[i+1]*fx)*(1-fy) + (b.ink[i+b.w]*(1-fx)+b.ink[i+b.w+1]*fx)*fy
			v.pix[y*v.w+x] = uint8(math.Round(200 - 120*float64(ink)))
		}
	}
	x, y, residual, score, ok := seekFine(v, &tangent{x0: 50, xu: pxPerMM, y0: 50, yv: pxPerMM}, p.fine, p.hess, 0, 0)
	require.True(t, ok)
	assert.InDelta(t, dx, x, 0.02)
	assert.InDelta(t, dy, y, 0.02)
	assert.Greater(t, score, 0.97)
	assert.Less(t, residual, 0.06)
}

func TestBanded_SolvesWhatItFactors(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, width := range []int{1, 5, 8, 23, 91} {
		const n = 120
		b := newBanded(n, width)
		full := make([][]float64, n)
		for i := range full {
			full[i] = make([]float64, n)
		}
		for i := range n {
			for j := max(0, i-width); j <= i; j++ {
				v := rng.Float64() - 0.5
				if i == j {
					v += float64(width) + 1
				}
				b.add(i, j, v)
				full[i][j], full[j][i] = v, v
			}
		}
		want, x := make([]float64, n), make([]float64, n)
		for i := range want {
			want[i] = rng.Float64()
		}
		for i := range n {
			for j := range n {
				x[i] += full[i][j] * want[j]
			}
		}
		require.True(t, b.cholesky())
		b.solve(x)
		assert.InDeltaSlice(t, want, x, 1e-9)
	}
	b := newBanded(3, 1)
	b.add(0, 0, 1)
	b.add(1, 1, -1)
	b.add(2, 2, 1)
	assert.False(t, b.cholesky(), "no factor of what is not positive definite")
}
