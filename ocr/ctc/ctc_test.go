package ctc_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/ctc"
)

// everyPath sums the probability of each text over all paths, one by one: the definition itself.
// Source: Graves et al. 2006, equations 2 and 3.
func everyPath(p [][]float64) map[string]float64 {
	out := map[string]float64{}
	places, symbols := len(p), len(p[0])
	path := make([]int, places)
	for {
		prob, text, last := 1.0, "", 0
		for t, s := range path {
			prob *= p[t][s]
			if s != 0 && s != last {
				text += fmt.Sprint(s)
			}
			last = s
		}
		out[text] += prob
		t := 0
		for ; t < places; t++ {
			if path[t]++; path[t] < symbols {
				break
			}
			path[t] = 0
		}
		if t == places {
			return out
		}
	}
}

func random(rng *rand.Rand, symbols, places int) (odds []float32, p [][]float64) {
	odds = make([]float32, symbols*places)
	p = make([][]float64, places)
	for t := range places {
		p[t] = make([]float64, symbols)
		sum := 0.0
		for s := range symbols {
			v := 2 * rng.NormFloat64()
			odds[s*places+t] = float32(v)
			p[t][s] = math.Exp(float64(float32(v)))
			sum += p[t][s]
		}
		for s := range symbols {
			p[t][s] /= sum
		}
	}
	return odds, p
}

func digits(text string) []int {
	var out []int
	for _, c := range text {
		out = append(out, int(c-'0'))
	}
	return out
}

func TestLine_Log_IsTheSumOverAllPaths(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 1))
	for range 20 {
		odds, p := random(rng, 4, 6)
		l, err := ctc.New(odds, 4, 6)
		require.NoError(t, err)
		total := 0.0
		for text, want := range everyPath(p) {
			got := math.Exp(l.Log(digits(text)))
			assert.InDelta(t, want, got, 1e-12, "text %q", text)
			total += got
		}
		assert.InDelta(t, 1, total, 1e-9, "all texts together; our own logic")
	}
}

func TestLine_Best_FindsTheLikeliestOfAll(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 1))
	for range 20 {
		odds, p := random(rng, 4, 6)
		l, err := ctc.New(odds, 4, 6)
		require.NoError(t, err)
		all := everyPath(p)
		probs := make([]float64, 0, len(all))
		for _, v := range all {
			probs = append(probs, v)
		}
		slices.Sort(probs)
		slices.Reverse(probs)
		for i, got := range l.Best(5, nil) {
			assert.InDelta(t, probs[i], got.Prob, 1e-12) // everyPath, the definition
		}
	}
}

// twoAlike allows texts of one or two equal symbols.
type twoAlike struct{}

func (twoAlike) Next(state, symbol int) (int, bool) {
	switch state {
	case 0:
		return symbol, true
	case symbol:
		return 9, true
	}
	return 0, false
}
func (twoAlike) Final(state int) bool { return state != 0 }

func TestLine_Best_KeepsToTheGrammarAndGivesItNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 1))
	for range 20 {
		odds, p := random(rng, 4, 6)
		l, err := ctc.New(odds, 4, 6)
		require.NoError(t, err)
		all, sum := everyPath(p), 0.0
		texts := l.Best(99, twoAlike{})
		require.Len(t, texts, 6, "1, 2, 3, 11, 22, 33; our own logic")
		for _, got := range texts {
			key := ""
			for _, s := range got.Symbols {
				key += fmt.Sprint(s)
			}
			assert.InDelta(t, all[key], got.Prob, 1e-12)
			sum += got.Prob
		}
		assert.LessOrEqual(t, sum, 1.0)
	}
}

func TestNew_OddInput(t *testing.T) {
	_, err := ctc.New(make([]float32, 5), 2, 3)
	require.ErrorContains(t, err, "5 values for 2 symbols at 3 places")
	_, err = ctc.New(nil, 0, 0)
	require.Error(t, err)
	nan := float32(math.NaN())
	l, err := ctc.New([]float32{nan, 0, float32(math.Inf(1)), 0}, 2, 2)
	require.NoError(t, err)
	assert.InDelta(t, 0.25, math.Exp(l.Log(nil)), 1e-12, "a place without numbers says nothing: all alike; our own logic")
	assert.True(t, math.IsInf(l.Log([]int{7}), -1), "a symbol that isn't there; our own logic")
	assert.True(t, math.IsInf(l.Log([]int{1, 1}), -1), "two alike need three places; Graves et al. 2006")
}

func FuzzLine(f *testing.F) {
	f.Add([]byte{1, 2, 3, 4, 5, 6})
	f.Add([]byte{255, 0, 255, 0})
	f.Fuzz(func(t *testing.T, b []byte) {
		const symbols = 3
		odds := make([]float32, len(b)/symbols*symbols)
		for i := range odds {
			odds[i] = (float32(b[i]) - 128) / 4
		}
		l, err := ctc.New(odds, symbols, len(odds)/symbols)
		if err != nil {
			return
		}
		sum := 0.0
		for _, x := range l.Best(10, nil) {
			sum += x.Prob
		}
		if math.IsNaN(sum) || sum > 1+1e-6 {
			t.Fatalf("texts sum to %v", sum)
		}
	})
}
