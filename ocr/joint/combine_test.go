package joint_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/ocr/joint"
	"gatefold/sheetmodel"
)

func random(rng *rand.Rand) joint.Belief {
	texts := []string{"1", "7", "12", "42", "17"}
	var b joint.Belief
	sum := 0.0
	w := make([]float64, len(texts)+1)
	for i := range w {
		w[i] = rng.ExpFloat64() * rng.ExpFloat64()
		sum += w[i]
	}
	for i, t := range texts {
		b.Texts = append(b.Texts, sheetmodel.Rival{Text: t, Prob: sheetmodel.Prob(w[i] / sum)})
	}
	b.Other = sheetmodel.Prob(w[len(texts)] / sum)
	return b
}

func TestCombine_SumsToOneAndIsSymmetric(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 500 {
		a, b := random(rng), random(rng)
		ab, ba := joint.Combine(a, b, joint.DefaultPrior), joint.Combine(b, a, joint.DefaultPrior)
		sum := ab.Other
		for _, v := range ab.Texts {
			sum += v.Prob
			assert.InDelta(t, float64(v.Prob), float64(ba.Prob(v.Text)), 1e-12, v.Text)
		}
		assert.InDelta(t, 1, float64(sum), 1e-9)
	}
}

func TestCombine_MoreDoubtInOneWriting_NeverRaisesTheJoint(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 500 {
		a, b := random(rng), random(rng)
		before := joint.Combine(a, b, joint.DefaultPrior)
		// Mass moves from the texts to "none of these".
		keep := sheetmodel.Prob(rng.Float64())
		doubted := joint.Belief{Other: a.Other + (1-a.Other)*(1-keep)}
		for _, v := range a.Texts {
			doubted.Texts = append(doubted.Texts, sheetmodel.Rival{Text: v.Text, Prob: v.Prob * keep})
		}
		after := joint.Combine(doubted, b, joint.DefaultPrior)
		for _, v := range before.Texts {
			assert.LessOrEqual(t, float64(after.Prob(v.Text)), float64(v.Prob)+1e-12)
		}
	}
}

func TestBelief_ThroughAReadingAndBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for range 200 {
		a := random(rng)
		var r sheetmodel.Reading
		a.Fill(&r, 8)
		b := joint.FromReading(r)
		for _, v := range a.Texts {
			assert.InDelta(t, float64(v.Prob), float64(b.Prob(v.Text)), 1e-9)
		}
		assert.InDelta(t, float64(a.Other), float64(b.Other), 1e-9)
	}
}

func TestBelief_RivalsNotKept_CountAsNoneOfThese(t *testing.T) {
	a := joint.Belief{Other: 0.1, Texts: []sheetmodel.Rival{{Text: "46", Prob: 0.6}, {Text: "40", Prob: 0.2}, {Text: "48", Prob: 0.1}}}
	var r sheetmodel.Reading
	a.Fill(&r, 1)
	b := joint.FromReading(r)
	assert.InDelta(t, 0.2, float64(b.Other), 1e-12)
	assert.InDelta(t, 0.2, float64(b.Prob("40")), 1e-12)
	assert.Zero(t, b.Prob("48"))
}
