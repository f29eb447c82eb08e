package calib_test

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/calib"
)

// Source: Clopper & Pearson 1934; for no event the bound is 1-δ^(1/n) exactly.
func TestUpper_NoneSeen(t *testing.T) {
	for _, n := range []int{1, 10, 300, 29956} {
		want := 1 - math.Pow(0.05, 1/float64(n))
		assert.InEpsilon(t, want, calib.Upper(0, n, 0.05), 1e-6, "n %d", n)
	}
	// "0 wrong in 29,956 clear ones proves 1 in 10,000": project's own target, checked here.
	assert.LessOrEqual(t, calib.Upper(0, 29956, 0.05), 1e-4)
	assert.Greater(t, calib.Upper(0, 29900, 0.05), 1e-4)
}

func TestUpper_SomeSeen(t *testing.T) {
	// Source: from memory, the usual tables: 1 in 10 one-sided 95 % is 0.394, 5 in 100 is 0.102.
	assert.InDelta(t, 0.394, calib.Upper(1, 10, 0.05), 0.001)
	assert.InDelta(t, 0.102, calib.Upper(5, 100, 0.05), 0.001)
	assert.InDelta(t, 1, calib.Upper(10, 10, 0.05), 0)
	assert.InDelta(t, 1, calib.Upper(0, 0, 0.05), 0)
}

// honest draws readings whose claims are true: wrong with the probability that the score says.
func honest(rng *rand.Rand, n int) []calib.Sample {
	s := make([]calib.Sample, n)
	for i := range s {
		score := 5*rng.Float64() - 0.5
		wrong := 1 / (1 + math.Pow(10, score))
		s[i] = calib.Sample{Score: score, Right: rng.Float64() >= wrong, Writer: i % 40}
	}
	return s
}

func TestFit_HonestScores_CurveFollowsThem(t *testing.T) {
	c := calib.Fit(honest(rand.New(rand.NewPCG(1, 1)), 40000))
	for _, score := range []float64{0, 0.5, 1, 1.5, 2, 2.5} {
		want := 1 / (1 + math.Pow(10, score))
		assert.InDelta(t, math.Log10(want), math.Log10(c.WrongAt(score)), 0.2, "score %.1f", score)
	}
	assert.Equal(t, 40, c.Writers)
}

func TestFit_NeverRises(t *testing.T) {
	for seed := range uint64(20) {
		c := calib.Fit(honest(rand.New(rand.NewPCG(seed, 2)), 2000))
		last := 1.0
		for s := -2.0; s < 8; s += 0.05 {
			w := c.WrongAt(s)
			assert.LessOrEqual(t, w, last+1e-12)
			last = w
		}
	}
}

func TestFit_NoErrorSeen_ClaimsNoMoreThanItsNumber(t *testing.T) {
	s := make([]calib.Sample, 1000)
	for i := range s {
		s[i] = calib.Sample{Score: float64(i) / 100, Right: true}
	}
	c := calib.Fit(s)
	assert.GreaterOrEqual(t, c.WrongAt(100), 0.5/1001)
}

func TestFit_TooFew_SaysNothing(t *testing.T) {
	c := calib.Fit(honest(rand.New(rand.NewPCG(1, 1)), 49))
	assert.InDelta(t, 1, c.WrongAt(9), 0)
}

func TestChoose_HoldsOnFreshDraws(t *testing.T) {
	// The promise is 95 %: in 200 draws no more than a handful may break it.
	const target = 0.01
	broken := 0
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 3))
		th := calib.Choose(honest(rng, 3000), target, 0.6)
		if !th.Met {
			continue
		}
		wrong, certain := 0.0, 0.0
		for score := -0.5; score < 4.5; score += 0.001 {
			if score >= th.Score {
				certain++
				wrong += 1 / (1 + math.Pow(10, score))
			}
		}
		if wrong/certain > target {
			broken++
		}
	}
	assert.LessOrEqual(t, broken, 12)
}

func TestChoose_TargetOutOfReach_IsSaid(t *testing.T) {
	th := calib.Choose(honest(rand.New(rand.NewPCG(9, 9)), 200), 1e-4, 0.1)
	assert.False(t, th.Met)
	assert.LessOrEqual(t, th.Asked, 0.1)
	assert.Equal(t, calib.Tried, th.Tries)
}

func TestSet_OtherWeights_NothingIsClear(t *testing.T) {
	s, err := calib.Default("weights that nobody has")
	require.NoError(t, err)
	for _, k := range calib.Kinds {
		c, certain := s.Judge(k, 12)
		assert.False(t, certain)
		assert.Empty(t, c.Curve())
	}
}

func FuzzParse(f *testing.F) {
	b, err := os.ReadFile("curves.json")
	require.NoError(f, err)
	f.Add(b)
	f.Add([]byte(`{"format":1,"weights":"w","kinds":{"bib1":{"curve":{"score":[0,1],"log10_wrong":[-1,-2]},"threshold":{"score":1}}}}`))
	f.Add([]byte(`{"format":2}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := calib.Parse(b, "w")
		if err != nil {
			return
		}
		for _, k := range calib.Kinds {
			c, _ := s.Judge(k, 1)
			if v := c.Value(); v < 0 || v > 1 {
				t.Fatalf("certainty %v", v)
			}
		}
	})
}
