package ocr_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr"
	"gatefold/ocr/joint"
	"gatefold/scan/camera/fill"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// Front and back of one card: rows 1 and 2 name panels whose strips hold the same bibs.
func TestRead_RowAndStrip_AreTiedByTheirPanels(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	plan := fill.Plan{
		Rows: []fill.Row{
			{Number: 1, Bib: "25", Code: "F", Panel: "B"}, {Number: 2, Bib: "70", Code: "F", Panel: "C"}, {Number: 3, Bib: "61"},
		},
		Panels: []fill.Panel{{Letter: "B", Bibs: []string{"25"}, Path: true}, {Letter: "C", Bibs: []string{"70"}}},
	}
	tied, certain := 0, 0
	for seed := range uint64(4) {
		front := read(t, r, sheetmodel.Front, plan, seed, nil)
		back := read(t, r, sheetmodel.Back, plan, seed, nil)
		for _, e := range back.Strips {
			used := e.Entry == 1 && (e.Panel == "B" || e.Panel == "C")
			assert.Equal(t, used, e.Bib.State != sheetmodel.Empty, "strip %s %d", e.Panel, e.Entry)
		}
		for _, p := range joint.Card(front, back, r.Curves()) {
			require.Equal(t, sheetmodel.LookStrip, p.Kind)
			assert.Equal(t, map[int]string{1: "B", 2: "C"}[p.Row], p.Panel)
			if p.Fault == "" {
				tied++
			}
			if p.Both.State == sheetmodel.Clear {
				certain++
				assert.Equal(t, plan.Rows[p.Row-1].Bib, p.Both.Text)
			}
		}
		drawn := all(back)["panel-b.drawing"]
		assert.Equal(t, sheetmodel.Clear, drawn.State, "the path in panel B is seen, and only seen")
		assert.Empty(t, drawn.Text)
	}
	assert.GreaterOrEqual(t, tied, 6)
	assert.GreaterOrEqual(t, certain, 5)
}

// What Tesseract makes of free text is a hint: never clear, whatever it reads.
func TestRead_PrintedName_IsAHintAndDoubtful(t *testing.T) {
	r, err := ocr.Open(ocr.Options{Tesseract: true})
	require.NoError(t, err)
	defer func() { require.NoError(t, r.Close()) }()
	side := layout().Side(sheetmodel.Front)
	f := side.Field("header.judge")
	typed := *side
	typed.Print = append(append([]sheetmodel.PrintItem{}, side.Print...), sheetmodel.PrintItem{
		Text: "IDA MOEN", At: sheetmodel.SheetPoint{X: f.Rect.X + 4, Y: f.Rect.Y + 5.4}, Size: 3.2,
	})
	page := matOf(t, print.RasterBlank(&typed, pagePxPerMM))
	defer func() { require.NoError(t, page.Close()) }()
	got, err := r.Read(page, pagePxPerMM, side, nil)
	require.NoError(t, err)
	judge, ok := got.Field("header.judge")
	require.True(t, ok)
	assert.Equal(t, "IDA MOEN", judge.Text)
	assert.Equal(t, sheetmodel.Doubtful, judge.State)
	phone, _ := got.Field("header.phone")
	assert.Equal(t, sheetmodel.Empty, phone.State)
}
