package trouble_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/train/trouble"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/testdata/split"
)

// tens gives a handful of traced digits.
type tens [10][]hand.Strokes

func (d tens) Digit(digit int, rng *rand.Rand) (hand.Strokes, int) {
	k := rng.IntN(len(d[digit]))
	return d[digit][k], k
}

func digits(t *testing.T) tens {
	t.Helper()
	folder, err := hand.FindMNIST(t.Context())
	require.NoError(t, err)
	m, err := hand.ReadMNIST(folder)
	require.NoError(t, err)
	var d tens
	for _, i := range split.Select()[:150] {
		g := &m.Train[i]
		d[g.Label] = append(d[g.Label], hand.Trace(g))
	}
	return d
}

// Expected values: our own logic.
func TestDraw_OneSeedOneBlock_AndEveryKindComes(t *testing.T) {
	cards, err := trouble.NewCards()
	require.NoError(t, err)
	hands := digits(t)
	level := camera.Levels()[camera.Ordinary]
	kinds, places := map[trouble.Kind]int{}, map[trouble.Where]int{}
	for seed := range uint64(24) {
		draw := func() []trouble.Sample {
			s, err := cards.Draw(trouble.Options{Level: level, Digits: hands, Shots: 1}, rand.New(rand.NewPCG(seed, 7)))
			require.NoError(t, err)
			return s
		}
		all := draw()
		if seed < 2 {
			assert.Equal(t, all, draw())
		}
		for _, s := range all {
			kinds[s.Kind]++
			places[s.Where]++
			dark := 0
			for _, v := range s.Comb {
				if v > 90 {
					dark++
				}
			}
			assert.Greater(t, dark, 100, "no comb without its printed lines")
		}
	}
	for k := range trouble.Kinds {
		if trouble.Kind(k) == trouble.OnLine {
			continue // one in fifty: see TestStroke
		}
		assert.Positive(t, kinds[trouble.Kind(k)], "kind %d", k)
	}
	assert.Len(t, places, 5)
}
