//go:build cgo

package reading

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/calib"
	"gatefold/sheetmodel"
)

// A bib in a free cell claims as much as one in boxes. Where the cells' own curve makes less of that claim than a comb's
// threshold stands for, one entry confirms the comb's and not the cell's; where it makes as much, both.
// Source: our own logic.
func TestAlone_ABibInACell_NeedsTheCertaintyOfOneInBoxes(t *testing.T) {
	none, err := calib.Default("")
	require.NoError(t, err)
	curves, err := calib.Default(none.File().Weights)
	require.NoError(t, err)
	require.True(t, curves.Calibrated())
	side := &sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210, Fields: []sheetmodel.Field{
		{Name: "row-01.bib", Part: sheetmodel.PartBib, Kind: sheetmodel.Comb, Boxes: 3, Row: 1},
		{Name: "row-02.bib", Part: sheetmodel.PartBib, Kind: sheetmodel.Cell, Row: 2},
		{Name: "panel-A.bib", Part: sheetmodel.PartBib, Kind: sheetmodel.Cell, Panel: "A"},
	}}
	reading := func(field string, sure float64) sheetmodel.Reading {
		c, err := sheetmodel.NewCertainty(sure, "test")
		require.NoError(t, err)
		return sheetmodel.Reading{
			Field: field, Text: "46", Certainty: c, State: sheetmodel.Doubtful,
			Rivals: []sheetmodel.Rival{{Text: "40", Prob: 0.0002}, {Text: "", Prob: 0.0001}},
		}
	}
	with := func(sure float64) []string {
		read := sheetmodel.SheetReading{
			Rows:   []sheetmodel.Row{{Bib: reading("row-01.bib", sure)}, {Bib: reading("row-02.bib", sure)}},
			Strips: []sheetmodel.StripEntry{{Bib: reading("panel-A.bib", sure)}},
		}
		return aloneIn(side, read, curves)
	}
	assert.Equal(t, []string{"row-01.bib"}, with(0.985), "what the cells' curve made of the best score when this was written")
	assert.Equal(t, []string{"row-01.bib"}, with(0.998), "in combs as rare as what passes; in cells three times as much would be wrong")
	assert.Equal(t, []string{"row-01.bib", "row-02.bib", "panel-A.bib"}, with(0.9995))
}

// A zero in front may be what is left of a longer number whose first digit is lost on a line, to a person as well: one entry
// of it is not enough. Source: our own logic; of 8,039 bibs on cards of another make 3 of the 4 that one entry would have
// confirmed wrongly were "105" read as "05" (testdata/bench/LEAGUES.md).
func TestAlone_AZeroInFront_IsNotConfirmedByOneEntry(t *testing.T) {
	none, err := calib.Default("")
	require.NoError(t, err)
	curves, err := calib.Default(none.File().Weights)
	require.NoError(t, err)
	side := &sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210, Fields: []sheetmodel.Field{
		{Name: "row-01.bib", Part: sheetmodel.PartBib, Kind: sheetmodel.Comb, Boxes: 3, Row: 1},
	}}
	for text, want := range map[string][]string{"46": {"row-01.bib"}, "06": nil} {
		c, err := sheetmodel.NewCertainty(0.9999, "test")
		require.NoError(t, err)
		read := sheetmodel.SheetReading{Rows: []sheetmodel.Row{{Bib: sheetmodel.Reading{
			Field: "row-01.bib", Text: text, Certainty: c, State: sheetmodel.Doubtful, Rivals: []sheetmodel.Rival{{Text: "40", Prob: 1e-7}},
		}}}}
		assert.Equal(t, want, aloneIn(side, read, curves), text)
	}
}
