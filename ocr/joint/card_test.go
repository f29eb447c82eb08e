package joint_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/calib"
	"gatefold/ocr/joint"
	"gatefold/sheetmodel"
)

// combsOnly finds everything in combs good enough, and knows nothing of cells.
type combsOnly struct{ asked *[]calib.Kind }

func (c combsOnly) Judge(kind calib.Kind, _ float64) (sheetmodel.Certainty, bool) {
	*c.asked = append(*c.asked, kind)
	return sheetmodel.Certainty{}, kind == calib.Bib2
}

// What two numbers in free cells are worth together, no curve of combs says. Source: our own logic.
func TestRead_AWritingInAFreeCell_IsNotJudgedAsOneInAComb(t *testing.T) {
	written := func(curve string) sheetmodel.Reading {
		c, err := sheetmodel.NewCertainty(0.99, curve)
		require.NoError(t, err)
		return sheetmodel.Reading{Text: "42", State: sheetmodel.Clear, Certainty: c}
	}
	comb, cell := written("bib1-0123456789ab"), written("cell-bib-0123456789ab")
	for _, c := range []struct {
		first, second sheetmodel.Reading
		kind          calib.Kind
		clear         bool
	}{{comb, comb, calib.Bib2, true}, {cell, cell, calib.CellBib2, false}, {comb, cell, calib.CellBib2, false}, {cell, comb, calib.CellBib2, false}} {
		var asked []calib.Kind
		both := joint.Read(c.first, c.second, joint.Tie{Row: 1, Kind: sheetmodel.LookStrip, Panel: "A", Entry: 1}, combsOnly{&asked})
		assert.Equal(t, []calib.Kind{c.kind}, asked)
		assert.Equal(t, c.clear, both.State == sheetmodel.Clear)
		assert.Equal(t, "42", both.Text, "shown all the same")
	}
}
