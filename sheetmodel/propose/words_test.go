package propose

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// "Gate number" was taken for bibs, for "number" is a word for them: each gate would have been a racer. Headings that name something else
// beside a bib are left to a person. What the words mean: from memory, headings as they stand on forms; that doubt is asked is our own logic.
func TestSenseOf_NumberOfSomethingElse_IsNoBib(t *testing.T) {
	for text, want := range map[string]sheetmodel.Part{
		"Bib": sheetmodel.PartBib, "Number": sheetmodel.PartBib, "Start number": sheetmodel.PartBib, "Number of racer": sheetmodel.PartBib, "Racer": sheetmodel.PartBib,
		"Bib seen": sheetmodel.PartBib, "Race number": sheetmodel.PartBib, "Startnummer": sheetmodel.PartBib,
		"Gate number": sheetmodel.PartGate, "Number of gate": sheetmodel.PartGate, "Pole number": sheetmodel.PartGate, "Gate no.": sheetmodel.PartGate,
		"Code number": sheetmodel.PartCode, "Drawing number": sheetmodel.PartPanel, "Bib again": sheetmodel.PartBibAgain,
		"Row number": "", "Name of racer": "", "Finish number": "", "Gate of bib": "", "Other bib": "", "Bib of the racer hindering": "",
		"Gate / number": "", "Gate and number": "", "Remarks on bib": "", "Number of faults": "", "What the racer did": "",
	} {
		got, known := senseOf(text, true)
		assert.Equal(t, want, got.part, text)
		assert.Equal(t, want != "", known, text)
	}
}
