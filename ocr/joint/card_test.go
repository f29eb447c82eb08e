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

// A layout that was described by hand may have the bib's second box, or the entry below a drawing, where the row has its bib: what was
// written once would be its own second look. Source: our own logic; two looks are two writings.
func TestTies_OneInkInTwoFields_IsOneWriting(t *testing.T) {
	at := func(x, y sheetmodel.MM) sheetmodel.Reading {
		return sheetmodel.Reading{Side: sheetmodel.Front, Text: "46", State: sheetmodel.Clear, Rivals: []sheetmodel.Rival{{Prob: 1e-4}},
			Region: sheetmodel.Rect{X: x, Y: y, W: 24, H: 10}}
	}
	none := sheetmodel.Reading{State: sheetmodel.Empty}
	panel := sheetmodel.Reading{Text: "A", State: sheetmodel.Clear}
	again := func(x sheetmodel.MM) sheetmodel.SheetReading {
		return sheetmodel.SheetReading{Rows: []sheetmodel.Row{{Number: 1, HasInk: true, Bib: at(20, 50), BibAgain: at(x, 50), Panel: none}}}
	}
	below := func(y sheetmodel.MM) sheetmodel.SheetReading {
		return sheetmodel.SheetReading{
			Rows:   []sheetmodel.Row{{Number: 1, HasInk: true, Bib: at(20, 50), BibAgain: none, Panel: panel}},
			Strips: []sheetmodel.StripEntry{{Panel: "A", Entry: 1, Bib: at(20, y)}},
		}
	}
	for name, c := range map[string]struct {
		card  sheetmodel.SheetReading
		clear bool
	}{
		"second box beside it":    {again(44.2), true},
		"second box on it":        {again(20), false},
		"second box half on it":   {again(32), false},
		"entry below the drawing": {below(150), true},
		"entry on the row's bib":  {below(51), false},
	} {
		pairs := joint.Card(c.card, c.card, stepJudge{})
		require.Len(t, pairs, 1, name)
		assert.Equal(t, c.clear, pairs[0].Both.State == sheetmodel.Clear, name)
		assert.Equal(t, c.clear, pairs[0].Fault == "", name)
	}
}

// Two bibs below one drawing that have one number, as when a card's panels stand on both sides: an entry is found by its number, so nobody
// knows which ink a row would be held against. Source: our own logic; what is in doubt lends nothing.
func TestTies_TwoEntriesWithOneNumber_LendNothing(t *testing.T) {
	bib := func(text string) sheetmodel.Reading {
		return sheetmodel.Reading{Text: text, State: sheetmodel.Clear, Rivals: []sheetmodel.Rival{{Prob: 1e-4}}}
	}
	none := sheetmodel.Reading{State: sheetmodel.Empty}
	card := func(second int) sheetmodel.SheetReading {
		return sheetmodel.SheetReading{
			Rows: []sheetmodel.Row{
				{Number: 1, HasInk: true, Bib: bib("12"), BibAgain: none, Panel: sheetmodel.Reading{Text: "A", State: sheetmodel.Clear}},
				{Number: 2, HasInk: true, Bib: bib("46"), BibAgain: none, Panel: sheetmodel.Reading{Text: "A", State: sheetmodel.Clear}},
			},
			Strips: []sheetmodel.StripEntry{{Panel: "A", Entry: 1, Bib: bib("12")}, {Panel: "A", Entry: second, Bib: bib("46")}},
		}
	}
	for second, lends := range map[int]bool{2: true, 1: false} {
		c := card(second)
		pairs := joint.Card(c, c, stepJudge{})
		require.Len(t, pairs, 2)
		for _, p := range pairs {
			assert.Equal(t, lends, p.Both.State == sheetmodel.Clear, "second entry %d, row %d", second, p.Row)
		}
	}
}
