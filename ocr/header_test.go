package ocr_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr"
	"gatefold/ocr/ctc"
	"gatefold/ocr/net"
	"gatefold/scan/camera/fill"
	"gatefold/sheetmodel"
)

// lineOf is a line that says text, each sign with the given log-odds over all others; a second text of the same
// length shares them where it differs.
func lineOf(t *testing.T, text, or string, odds float32) *ctc.Line {
	t.Helper()
	v := make([]float32, len(net.CellSymbols)*net.CellPlaces)
	set := func(symbol byte, place int) {
		s := strings.IndexByte(net.CellSymbols, symbol)
		require.GreaterOrEqual(t, s, 0, "%q has a symbol", symbol)
		v[s*net.CellPlaces+place] = odds
	}
	for p := range net.CellPlaces {
		if i := p / 2; p%2 == 0 && i < len(text) {
			set(text[i], p)
			if or != "" {
				set(or[i], p)
			}
			continue
		}
		set(0, p)
	}
	l, err := ctc.New(v, len(net.CellSymbols), net.CellPlaces)
	require.NoError(t, err)
	return l
}

// Source of the ways: common practice, ISO 8601 for the year first; of what they may mean: our own logic.
func TestDateBelief_WaysOfWritingADay(t *testing.T) {
	for text, want := range map[string]string{
		"7,2,": "02-07 or 07-02", "7/2": "02-07 or 07-02", "72": "02-07 or 07-02", "27/2": "02-27", "07/02/26": "2026-02-07 or 2026-07-02",
		"2026-02-07": "2026-02-07", "7FEB": "02-07", "SEP7": "09-07", "5EP7": "09-07", "7N0V2026": "2026-11-07", "31-4": "",
		"30/2": "", "32/13": "", "0/0": "", "ABC": "", "7": "", "112": "01-12 or 02-11 or 11-02 or 12-01", "#": "",
	} {
		got, _ := ocr.DateBelief(lineOf(t, text, "", 14)).Top()
		assert.Equal(t, want, got, "%q", text)
	}
}

func TestPhoneBelief_DigitsAndWhatStandsBetween(t *testing.T) {
	for text, want := range map[string]string{
		"555-0123": "5550123", "0123/456789": "0123456789", "12345": "12345", "1234": "", "55--0123": "", "-5550123": "",
		"5550123-": "", "555A0123": "", "555?": "", "#": "", "ADA": "",
	} {
		got, _ := ocr.PhoneBelief(lineOf(t, text, "", 14)).Top()
		assert.Equal(t, want, got, "%q; E.164 for at most 15 digits, else our own logic", text)
	}
}

// A grammar gives its texts nothing: ink that can be read in two ways leaves both with half, and nothing is shown.
func TestHelp_TwoReadings_ShowNothing(t *testing.T) {
	b := ocr.PhoneBelief(lineOf(t, "5550123", "5550128", 14))
	assert.InDelta(t, 0.5, float64(b.Prob("5550123")), 0.01, "our own logic")
	assert.Empty(t, ocr.Help(b))
	assert.Empty(t, ocr.Help(ocr.PhoneBelief(lineOf(t, "5550123", "555A123", 14))), "half of it is no number")
}

func TestNameBelief_JudgesAgainstNoneAndEachOther(t *testing.T) {
	judges := []string{"Ada Fir", "Ina Rowan", "Otto Birch"}
	for text, want := range map[string]string{
		"ADAFIR": "Ada Fir", "FIRADA": "Ada Fir", "FIR": "Ada Fir", "AFIR": "Ada Fir", "0TT0": "Otto Birch", "1NAR0WAN": "Ina Rowan",
		"EVASTONE": "", "#": "", "5550123": "", "X": "",
	} {
		assert.Equal(t, want, ocr.Help(ocr.NameBelief(lineOf(t, text, "", 14), judges)), "%q; our own logic", text)
	}
	assert.Empty(t, ocr.Help(ocr.NameBelief(lineOf(t, "ADA", "", 14), []string{"Ada Fir", "Ada Rowan"})), "two of one name: neither")
	assert.Empty(t, ocr.Help(ocr.NameBelief(lineOf(t, "ADA", "", 14), nil)))
	assert.Empty(t, ocr.Help(ocr.NameBelief(lineOf(t, "ADA", "", 14), []string{"", "…"})), "names without a capital of the net's")
}

// readHeaderOf reads a front with a filled header.
func readHeaderOf(t *testing.T, opt ocr.Options) sheetmodel.SheetReading {
	t.Helper()
	r, err := ocr.Open(opt)
	require.NoError(t, err)
	defer func() { require.NoError(t, r.Close()) }()
	plan := headerPlan()
	page := filled(t, sheetmodel.Front, plan, 5, nil)
	defer func() { require.NoError(t, page.Close()) }()
	got, err := r.Read(page, pagePxPerMM, layout().Side(sheetmodel.Front), nil)
	require.NoError(t, err)
	return got
}

func headerPlan() fill.Plan {
	plan := cleanPlan()
	plan.Header["header.phone"], plan.Header["header.judge"] = "555-0123", "ADA FIR"
	return plan
}

// The header is help to find a judge: it is never clear, and not one row is read otherwise for it.
func TestRead_Header_IsNeverClearAndChangesNoRow(t *testing.T) {
	without := readHeaderOf(t, ocr.Options{})
	with := readHeaderOf(t, ocr.Options{Header: true, Judges: func() []string { return []string{"Ada Fir", "Ina Rowan"} }})
	off, on := without.Readings(), with.Readings()
	require.Len(t, on, len(off))
	for i, x := range off {
		if f := on[i]; x.Field != "header.phone" && x.Field != "header.judge" {
			assert.Equal(t, [3]any{x.Text, x.State, x.Doubts}, [3]any{f.Text, f.State, f.Doubts}, x.Field)
			assert.InDelta(t, x.Certainty.Value(), f.Certainty.Value(), 1e-12, x.Field)
		}
	}
	for _, name := range []string{"header.phone", "header.judge"} {
		off, _ := without.Field(name)
		on, ok := with.Field(name)
		require.True(t, ok)
		assert.Empty(t, off.Text, "%s unasked", name)
		assert.Equal(t, off.Doubts, on.Doubts, "%s", name)
		assert.Equal(t, sheetmodel.Doubtful, on.State, "%s", name)
		assert.Zero(t, on.Certainty.Value(), "%s", name)
		t.Log(name, on.Text, on.Rivals)
	}
	phone, _ := with.Field("header.phone")
	assert.Equal(t, "5550123", phone.Text, "written plainly")
}

// As BenchmarkRead, with phone and judge filled in: alone, and read.
func BenchmarkRead_Header(b *testing.B) {
	for _, on := range []bool{false, true} {
		b.Run(map[bool]string{false: "kept", true: "read"}[on], func(b *testing.B) {
			names := []string{"Ada Fir", "Ina Rowan", "Otto Birch", "Jon Kettle", "Lea Gorse", "Max Puddle", "Kurt Marmot", "Iris Bell", "Emil Haystack", "Hugo Cloudberry", "Nora Willowbank", "Petra Mossladle"}
			r, err := ocr.Open(ocr.Options{Header: on, Judges: func() []string { return names }})
			require.NoError(b, err)
			defer func() { require.NoError(b, r.Close()) }()
			plan := headerPlan()
			plan.Rows = plan.Rows[:4]
			page := filled(b, sheetmodel.Front, plan, 2, nil)
			defer func() { require.NoError(b, page.Close()) }()
			side := layout().Side(sheetmodel.Front)
			for b.Loop() {
				if _, err := r.Read(page, pagePxPerMM, side, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
