package trial

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// Where a reader never is certain of a code or a gate, package look leaves it to the judge alone (doubtful, plausible rival): the
// trial mustn't promise that somebody else could type it. Source: the table of package look.
func TestAdvice_CodeOrGateInACell_NamesTheJudge(t *testing.T) {
	g := Group{Part: sheetmodel.PartCode, Kind: sheetmodel.Cell, Grammar: sheetmodel.GrammarCode, Written: 4, Asked: 4, Likely: 3}
	assert.Contains(t, g.Advice(), "only its judge can settle it")
	assert.Contains(t, g.Advice(), "75 % were read rightly")
	g.Part, g.Grammar = sheetmodel.PartGate, sheetmodel.GrammarGate
	assert.Contains(t, g.Advice(), "a gate written in a cell")
	g.Part, g.Grammar = sheetmodel.PartBib, sheetmodel.GrammarBib // bibs have a threshold of their own for a person's entry
	assert.Contains(t, g.Advice(), "a person is asked about every one")
	assert.NotContains(t, g.Advice(), "judge")
}
