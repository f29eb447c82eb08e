package sheetmodel_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

func TestSheetReading_Readings_AreThoseWithAField_InTheOrderOfTheSheet(t *testing.T) {
	named := func(field string) sheetmodel.Reading { return sheetmodel.Reading{Field: field} }
	side := sheetmodel.SheetReading{
		Header: []sheetmodel.Reading{named("judge"), {}},
		Rows: []sheetmodel.Row{
			{Bib: named("row-01.bib"), Code: named("row-01.code"), CodeOther: named("row-01.other"), Gate: named("row-01.gate"), Panel: named("row-01.panel"), Rerun: named("row-01.rerun")},
			{Bib: named("row-02.bib"), BibAgain: named("row-02.bib-again")},
		},
		Strips: []sheetmodel.StripEntry{{Bib: named("panel-b.bib")}},
		Ink:    []sheetmodel.Reading{named("panel-b.drawing")},
	}
	var got []string
	for _, r := range side.Readings() {
		got = append(got, r.Field)
	}
	assert.Equal(t, []string{
		"judge", "row-01.bib", "row-01.code", "row-01.other", "row-01.gate", "row-01.panel", "row-01.rerun",
		"row-02.bib", "row-02.bib-again", "panel-b.bib", "panel-b.drawing",
	}, got)
	assert.Len(t, side.Header, 2, "the side itself is not changed")
}
