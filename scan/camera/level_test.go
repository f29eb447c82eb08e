package camera

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

func TestLevels_File_HasThreeLevelsWithEveryFault(t *testing.T) {
	levels := Levels()
	require.Len(t, levels, 3)
	for name, l := range levels {
		assert.Equal(t, name, l.Name)
		for _, k := range FaultKinds() {
			assert.Contains(t, l.Fault, k, name)
		}
		assert.Len(t, l.Fault, len(FaultKinds()), name)
		assert.Less(t, l.PxPerMM.Min, l.PxPerMM.Max, name)
		assert.Positive(t, l.JPEGQuality.Min, name)
	}
	assert.Len(t, levels[Impossible].Reason, 3)
	assert.Empty(t, levels[Hard].Reason)
	assert.Len(t, LevelsHash(), 64)
}

func TestParseLevels_BadFiles_AreRefused(t *testing.T) {
	for _, text := range []string{"format: 2", "format: 1\nlevels: {x: {like: y}}", "format: [", "format: 1\nlevels: {x: {like: x}}"} {
		_, err := parseLevels([]byte(text))
		assert.Error(t, err, text)
	}
}

// TestDraw_ThousandShots_StayInTheirLevel draws shots and checks each value against the frozen spans.
func TestDraw_ThousandShots_StayInTheirLevel(t *testing.T) {
	sc := testScene()
	for name, l := range Levels() {
		rng := rand.New(rand.NewPCG(1, 1))
		reasons, kinds, counts := map[Reason]int{}, map[FaultKind]int{}, map[int]int{}
		for i := range 1000 {
			s := l.Draw(sc, rng)
			v := s.View()
			require.Truef(t, l.TiltDeg.Holds(s.TiltDeg), "%s %d tilt %g", name, i, s.TiltDeg)
			require.Truef(t, l.BendMM.Holds(s.Bend.HeightMM), "%s %d bend", name, i)
			if s.Reason != TooBlurred {
				require.Truef(t, l.BlurSigmaMM.Holds(s.BlurSigmaMM), "%s %d blur %g", name, i, s.BlurSigmaMM)
			} else {
				require.Greater(t, s.BlurSigmaMM, 0.6)
			}
			if s.Reason != TooSmall {
				require.Truef(t, l.PxPerMM.Holds(s.PxPerMM), "%s %d px/mm %g", name, i, s.PxPerMM)
			} else {
				require.Less(t, s.PxPerMM, 3.5)
			}
			require.InEpsilonf(t, s.PxPerMM, v.pxPerMM(), 0.15, "%s %d: px/mm said and measured", name, i)
			if s.Reason != RowOutside {
				require.InEpsilonf(t, s.PxPerMM, v.pxPerMM(), 0.01, "%s %d: px/mm said and measured", name, i)
			}
			reasons[s.Reason]++
			counts[len(s.Faults)]++
			require.GreaterOrEqual(t, float64(len(s.Faults)), l.Faults.Min)
			require.LessOrEqual(t, float64(len(s.Faults)), l.Faults.Max)
			seen := map[FaultKind]bool{}
			for _, f := range s.Faults {
				require.Truef(t, l.Fault[f.Kind].Holds(f.Amount), "%s %d %v", name, i, f)
				require.Falsef(t, seen[f.Kind], "%s %d: %s twice", name, i, f.Kind)
				seen[f.Kind] = true
				kinds[f.Kind]++
			}
			hidden := 0
			for _, m := range sc.Marks {
				if covered(&s, m.Center()) {
					hidden++
				}
			}
			require.LessOrEqualf(t, float64(hidden), l.MarksCovered.Max, "%s %d marks hidden", name, i)
			require.GreaterOrEqualf(t, float64(hidden), l.MarksCovered.Min, "%s %d marks hidden", name, i)
			rows := 0
			for _, r := range sc.Rows {
				rows += btoi(v.RowInView(r))
			}
			if s.Reason == RowOutside {
				require.Lessf(t, rows, len(sc.Rows), "%s %d rows in view", name, i)
			} else {
				require.Equalf(t, len(sc.Rows), rows, "%s %d rows in view", name, i)
			}
			lo, hi := surfaceSpan(v)
			if s.Bend.FoldDeg == 0 {
				require.InDeltaf(t, s.Bend.HeightMM, hi-lo, 0.05, "%s %d bend said and measured", name, i)
			}
		}
		t.Logf("%s: reasons %v, number of faults %v, kinds %v", name, reasons, counts, kinds)
		for _, k := range FaultKinds() {
			assert.Positivef(t, kinds[k], "%s never draws %s", name, k)
		}
		if name == Impossible {
			for _, r := range []Reason{TooBlurred, TooSmall, RowOutside} {
				assert.InDeltaf(t, 333, reasons[r], 60, "%s", r)
			}
		}
	}
}

func covered(s *Shot, p sheetmodel.SheetPoint) bool {
	for _, c := range s.Covers {
		if c.distance(float64(p.X), float64(p.Y)) < 0 {
			return true
		}
	}
	return false
}

// surfaceSpan is the lowest and highest point of the paper on a grid finer than the model's own.
func surfaceSpan(v *View) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for j := range 61 {
		for i := range 61 {
			_, _, h := v.surf.at(v.halfW*(float64(i)/30-1), v.halfH*(float64(j)/30-1))
			lo, hi = math.Min(lo, h), math.Max(hi, h)
		}
	}
	return lo, hi
}

func TestDraw_SameSeed_SameShot(t *testing.T) {
	for name, l := range Levels() {
		a := l.Draw(testScene(), rand.New(rand.NewPCG(7, 7)))
		b := l.Draw(testScene(), rand.New(rand.NewPCG(7, 7)))
		c := l.Draw(testScene(), rand.New(rand.NewPCG(7, 8)))
		assert.Equal(t, a, b, name)
		assert.NotEqual(t, a, c, name)
	}
}

func TestShot_ThroughJSON_IsTheSameCamera(t *testing.T) {
	l := Levels()[Hard]
	a := l.Draw(testScene(), rand.New(rand.NewPCG(3, 7)))
	text, err := json.Marshal(a)
	require.NoError(t, err)
	var b Shot
	require.NoError(t, json.Unmarshal(text, &b))
	p := sheetmodel.SheetPoint{X: 31, Y: 150}
	assert.Equal(t, a.View().PhotoFromSheet(p), b.View().PhotoFromSheet(p))
}

func TestDraw_Frame_KeepsItsSizeAndTheWholeSheet(t *testing.T) {
	sc := testScene()
	sc.Frame.X, sc.Frame.Y = 4032, 3024
	rng := rand.New(rand.NewPCG(4, 4))
	for _, name := range []string{Ordinary, Hard} {
		l := Levels()[name]
		for range 100 {
			s := l.Draw(sc, rng)
			assert.Equal(t, 4032, max(s.W, s.H))
			assert.Equal(t, 3024, min(s.W, s.H))
			assert.LessOrEqual(t, s.PxPerMM, l.PxPerMM.Max*1.001)
			v := s.View()
			for _, p := range v.outline(6) {
				assert.True(t, s.InFrame(v.PhotoFromSheet(p)))
			}
		}
	}
}
