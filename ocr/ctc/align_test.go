package ctc_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/ctc"
)

// The likeliest path is that of all paths that spell the text whose product is largest: they are all walked here, on lines short
// enough for it. Source: Graves and others 2006, the paths of connectionist temporal classification.
func TestPlaces_ShortLines_AreThoseOfTheLikeliestPath(t *testing.T) {
	const symbols, places = 4, 6
	rng := rand.New(rand.NewPCG(7, 9))
	for range 200 {
		odds := make([]float32, symbols*places)
		for i := range odds {
			odds[i] = float32(3 * rng.NormFloat64())
		}
		line, err := ctc.New(odds, symbols, places)
		require.NoError(t, err)
		for _, text := range [][]int{{1}, {2, 3}, {1, 1}, {3, 1, 2}, {2, 2, 2}} {
			best, at := math.Inf(-1), []int(nil)
			var walk func(path []int, sum float64)
			walk = func(path []int, sum float64) {
				if len(path) == places {
					if spelt, where := spell(path); sum > best && equal(spelt, text) {
						best, at = sum, where
					}
					return
				}
				for s := range symbols {
					walk(append(path[:len(path):len(path)], s), sum+float64(odds[s*places+len(path)])-total(odds, symbols, places, len(path)))
				}
			}
			walk(nil, 0)
			assert.Equal(t, at, line.Places(text), "%v of %v", text, odds)
		}
	}
	line, err := ctc.New(make([]float32, 8), 4, 2)
	require.NoError(t, err)
	assert.Nil(t, line.Places([]int{1, 1}), "two alike need a blank between them")
	assert.Nil(t, line.Places(nil))
	assert.Nil(t, line.Places([]int{4}))
}

// spell reads a path: what it says, and the middle of each symbol's run.
func spell(path []int) (text, where []int) {
	for i := 0; i < len(path); {
		j := i
		for j < len(path) && path[j] == path[i] {
			j++
		}
		if path[i] > 0 {
			text, where = append(text, path[i]), append(where, (i+j-1)/2)
		}
		i = j
	}
	return text, where
}

func equal(a, b []int) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// total is the logarithm of the sum over a place's symbols.
func total(odds []float32, symbols, places, at int) float64 {
	sum := 0.0
	for s := range symbols {
		sum += math.Exp(float64(odds[s*places+at]))
	}
	return math.Log(sum)
}
