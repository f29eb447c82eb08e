package ocr

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/crop"
	"gatefold/ocr/ctc"
	"gatefold/ocr/joint"
	"gatefold/ocr/net"
	"gatefold/sheetmodel"
)

// spokenSigns says at each sign's column what stands there.
type spokenSigns []Dist

func (s *spokenSigns) Sign(*crop.Strip, int, int, int) (Dist, error) {
	d := (*s)[0]
	*s = (*s)[1:]
	return d, nil
}

func claimsOf(class int, claim float64) Dist {
	var d Dist
	for c := range d {
		d[c] = (1 - claim) / (Classes - 1)
	}
	d[class] = claim
	return d
}

// twoPlaces is a line that says a digit at the 20th and one at the 40th of its places.
func twoPlaces(t *testing.T, first, second int) *ctc.Line {
	t.Helper()
	odds := make([]float32, len(net.CellSymbols)*net.CellPlaces)
	for p := range net.CellPlaces {
		odds[p] = 9 // nothing new
	}
	for p, d := range map[int]int{20: first, 40: second} {
		odds[p] = 0
		odds[(1+d)*net.CellPlaces+p] = 9
	}
	line, err := ctc.New(odds, len(net.CellSymbols), net.CellPlaces)
	require.NoError(t, err)
	return line
}

// What both readers see is surer than before, what the second sees otherwise less sure; how many signs there are is the line's to
// say. Our own logic.
func TestBySigns_SecondReader_RaisesWhatItReadsTooAndLowersWhatItDoesNot(t *testing.T) {
	line := twoPlaces(t, 4, 7)
	whole := joint.NewBelief([]sheetmodel.Rival{{Text: "47", Prob: 0.8}, {Text: "41", Prob: 0.1}, {Text: "4", Prob: 0.05}}, 0.05)
	for _, c := range []struct {
		name   string
		signs  spokenSigns
		top    string
		second string
		surer  bool
	}{
		{"alike", spokenSigns{claimsOf(4, 0.99), claimsOf(7, 0.99)}, "47", "47", true},
		{"the second digit otherwise", spokenSigns{claimsOf(4, 0.99), claimsOf(1, 0.99)}, "41", "41", false},
		{"no digit", spokenSigns{claimsOf(4, 0.99), claimsOf(ClassOther, 0.99)}, "", "", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, second, err := bySigns(&c.signs, &crop.Strip{}, line, whole)
			require.NoError(t, err)
			top, _ := got.Top()
			assert.Equal(t, c.top, top)
			assert.Equal(t, c.second, second)
			assert.Empty(t, c.signs, "each sign is looked at once")
			assert.Equal(t, c.surer, got.Prob("47") > whole.Prob("47"))
			if c.second != "" {
				assert.InDelta(t, float64(whole.Prob("4")/whole.Prob(c.second)), float64(got.Prob("4")/got.Prob(c.second)), 1e-9)
			}
		})
	}
}
