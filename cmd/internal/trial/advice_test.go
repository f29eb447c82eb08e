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

// A box that was left empty and is asked about costs a look; one that counts as marked is a racer who never came by, and nobody is
// asked. The trial must tell the two apart, and mustn't call the second good. Our own logic.
func TestCount_LeftEmpty_AskedAboutIsNotTakenForWritten(t *testing.T) {
	g := Group{Part: sheetmodel.PartPassed, Kind: sheetmodel.Tick, Grammar: sheetmodel.GrammarMark}
	g.count("x", sheetmodel.Reading{Text: "x", State: sheetmodel.Clear}, true)
	g.count("", sheetmodel.Reading{State: sheetmodel.Empty}, true)
	g.count("", sheetmodel.Reading{Text: "x", State: sheetmodel.Doubtful}, true)
	assert.Equal(t, "good", g.Advice())
	assert.Equal(t, "of 2 left empty, a person is asked about 1", g.OfEmpty())
	assert.Zero(t, g.Ghosts)

	g.count("", sheetmodel.Reading{Text: "x", State: sheetmodel.Clear}, true)
	assert.Equal(t, 1, g.Ghosts)
	assert.Equal(t, "1 that were left empty were certainly taken for written: don't use this card so", g.Advice())

	remark := Group{Part: sheetmodel.PartRemark, Kind: sheetmodel.Drawing, Grammar: sheetmodel.GrammarDrawing}
	remark.count("", sheetmodel.Reading{State: sheetmodel.Clear}, true)
	assert.Zero(t, remark.Ghosts, "nothing is read there: a picture too many does no harm")
	assert.Equal(t, "of 1 left empty, a picture is kept of 1", remark.OfEmpty())
}
