package ocr

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/ocr/joint"
	"gatefold/sheetmodel"
)

// Looks at the same ink are pooled as the geometric mean of their claims: agreeing ones are no surer than each, and one that sees
// something else lowers what the other is sure of. Source: logarithmic opinion pool, Genest and Zidek 1986.
func TestTogether_LooksOfOneReader_AreNoTwoWitnesses(t *testing.T) {
	say := func(other sheetmodel.Prob, claims ...sheetmodel.Rival) joint.Belief {
		return joint.NewBelief(claims, other)
	}
	a := say(0.02, sheetmodel.Rival{Text: "17", Prob: 0.9}, sheetmodel.Rival{Text: "11", Prob: 0.08})
	b := say(0.02, sheetmodel.Rival{Text: "11", Prob: 0.9}, sheetmodel.Rival{Text: "17", Prob: 0.08})
	else77 := say(0.01, sheetmodel.Rival{Text: "77", Prob: 0.99})
	differ := math.Sqrt(0.9 * 0.08)
	for _, c := range []struct {
		name  string
		looks []joint.Belief
		top   string
		claim map[string]float64
	}{
		{"one", []joint.Belief{a}, "17", map[string]float64{"17": 0.9, "11": 0.08}},
		{"two alike", []joint.Belief{a, a}, "17", map[string]float64{"17": 0.9, "11": 0.08}},
		{"two that differ", []joint.Belief{a, b}, "11", map[string]float64{"17": differ / (2*differ + 0.02), "11": differ / (2*differ + 0.02)}},
		// What a look doesn't name counts as 1 in 100 million; "none of these" is what both say most of.
		{"one that sees another number", []joint.Belief{a, else77}, "", map[string]float64{
			"77": math.Sqrt(0.99e-8) / (math.Sqrt(0.99e-8) + math.Sqrt(0.9e-8) + math.Sqrt(0.08e-8) + math.Sqrt(0.02*0.01)),
		}},
	} {
		got := together(c.looks)
		top, _ := got.Top()
		assert.Equal(t, c.top, top, c.name)
		for text, p := range c.claim {
			assert.InDelta(t, p, float64(got.Prob(text)), 1e-9, "%s: %s", c.name, text)
		}
	}
}
