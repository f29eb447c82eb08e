package sheetmodel_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// threeCodes is a book with one code that is ticked, one that is only written, and one whose meaning is
// too long for the list on the card.
func threeCodes() sheetmodel.CodeBook {
	return sheetmodel.CodeBook{Name: "test", Codes: []sheetmodel.Code{
		{Code: "F", Word: "fault", Meaning: "gate missed", Effect: sheetmodel.EffectPropose, Tick: true},
		{Code: "C", Word: "outside help", Meaning: "took help", Effect: sheetmodel.EffectPropose},
		{Code: "H", Word: "hindered", Meaning: "hindered by somebody or something on, beside, above or below the course that was not there before", Effect: sheetmodel.EffectHindered, Tick: true},
	}}
}

func TestPrintedCodes_AreWhatWasPrinted_AlsoAfterAFile(t *testing.T) {
	for _, paper := range []string{"a5", "half-letter"} {
		l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{Codes: threeCodes(), Paper: paper})
		require.NoError(t, err)
		data, err := sheetmodel.EncodeLayout(l)
		require.NoError(t, err)
		l, err = sheetmodel.ParseLayout("kept.yaml", data)
		require.NoError(t, err)
		assert.Equal(t, []sheetmodel.PrintedCode{
			{Code: "F", Word: "fault", Meaning: "gate missed"}, {Code: "H", Word: "hindered", Meaning: "hindered"}, {Code: "C", Meaning: "took help"},
		}, l.PrintedCodes(), paper)
		assert.Empty(t, threeCodes().Reused(l), paper)
	}
}

func TestReused_NamesCodesThatSayAnotherThingNow(t *testing.T) {
	l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{Codes: threeCodes()})
	require.NoError(t, err)
	for name, c := range map[string]struct {
		change func(codes []sheetmodel.Code)
		want   []string // code, printed, now
	}{
		"words swapped":          {func(c []sheetmodel.Code) { c[0].Word, c[2].Word = c[2].Word, c[0].Word }, []string{"F", "fault", "hindered", "H", "hindered", "fault"}},
		"letters swapped":        {func(c []sheetmodel.Code) { c[0].Code, c[2].Code = c[2].Code, c[0].Code }, []string{"F", "fault", "hindered", "H", "hindered", "fault"}},
		"ticked, other meaning":  {func(c []sheetmodel.Code) { c[0].Meaning = "ski lost here" }, []string{"F", "gate missed", "ski lost here"}},
		"written, other meaning": {func(c []sheetmodel.Code) { c[1].Meaning = "mended" }, []string{"C", "took help", "mended"}},
		"case and signs only":    {func(c []sheetmodel.Code) { c[0].Word, c[0].Meaning = "Fault", "Gate  missed." }, nil},
		"no longer in the book":  {func(c []sheetmodel.Code) { c[0].Code = "X" }, nil},
	} {
		book := threeCodes()
		c.change(book.Codes)
		var got []string
		for _, r := range book.Reused(l) {
			assert.Equal(t, l.Hash(), r.Layout)
			got = append(got, r.Code, r.Printed, r.Now)
		}
		assert.Equal(t, c.want, got, name)
	}
}
