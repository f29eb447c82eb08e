package ocr_test

import (
	"fmt"
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr"
	"gatefold/ocr/crop"
	"gatefold/ocr/weights"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/sheetmodel"
)

// sayer is a mark net that says the same of every box, and counts how often it is asked.
type sayer struct {
	claim float32
	asked *int
}

func (s sayer) Mark(*crop.Mark) (float32, error) { *s.asked++; return s.claim, nil }
func (sayer) Weights() string                    { return weights.MarksHash() }
func (sayer) Close() error                       { return nil }

// shaded lays a smudge on a box of a page: no stroke, but darker than paper.
func shaded(page *image.Gray, box sheetmodel.Rect, dark byte) {
	const radius = 1.5 // mm
	c := box.Center()
	for y := int((c.Y - radius) * pagePxPerMM); y < int((c.Y+radius)*pagePxPerMM); y++ {
		for x := int((c.X - radius) * pagePxPerMM); x < int((c.X+radius)*pagePxPerMM); x++ {
			if math.Hypot(float64(x)/pagePxPerMM-float64(c.X), float64(y)/pagePxPerMM-float64(c.Y)) < radius {
				page.Pix[page.PixOffset(x, y)] -= dark
			}
		}
	}
}

// optionOf returns the box of one option of a choice.
func optionOf(side *sheetmodel.Side, field, value string) sheetmodel.Rect {
	for _, o := range side.Field(field).Options {
		if o.Value == value {
			return o.Rect
		}
	}
	panic(fmt.Sprintf("no option %s in %s", value, field))
}

// Where no ink is seen and a box is dark, the mark net decides for panels. A smudge that is dark enough to be ink stays a
// doubt in a code's box, whatever the net says. Our own logic.
func TestRead_ShadedBoxes_ByTheMarkNet(t *testing.T) {
	side := layout().Side(sheetmodel.Front)
	plan := fill.Plan{Rows: []fill.Row{
		{Number: 1, Bib: "12", Code: "F", Panel: "B"}, {Number: 2, Bib: "34", Code: "F", Panel: "B"}, {Number: 3, Bib: "56", Code: "K"},
		{Number: 4, Bib: "78", Code: "K", Panel: "D"}, {Number: 5, Bib: "9", Panel: "E"},
	}}
	draw := func() *image.Gray {
		page := drawn(t, sheetmodel.Front, camera.Levels()["ordinary"].Pens(), plan, 71, nil)
		shaded(page, optionOf(side, "row-03.panel", "C"), 7) // no panel is marked there
		shaded(page, optionOf(side, "row-04.panel", "F"), 7) // D is
		shaded(page, optionOf(side, "row-04.code", "P"), 10) // K is
		shaded(page, optionOf(side, "row-05.code", "H"), 10) // no code is
		return page
	}
	read := func(claim float32) (sheetmodel.SheetReading, int) {
		asked := 0
		r, err := ocr.Open(ocr.Options{Marks: sayer{claim, &asked}, Curves: everyScore(t)})
		require.NoError(t, err)
		defer func() { require.NoError(t, r.Close()) }()
		mat := matOf(t, draw())
		got, err := r.Read(mat, pagePxPerMM, side, nil)
		require.NoError(t, mat.Close())
		require.NoError(t, err)
		return got, asked
	}
	doubtful := func(got sheetmodel.SheetReading) map[string]bool {
		out := map[string]bool{}
		for _, row := range got.Rows {
			for _, x := range []sheetmodel.Reading{row.Code, row.Panel} {
				if x.HasDoubt(sheetmodel.DoubtFaintInk) {
					out[x.Field] = true
				}
			}
		}
		return out
	}
	unsure, asked := read(0.5)
	// Beside the plain mark on D the rules by themselves see that F is none.
	assert.Equal(t, map[string]bool{"row-03.panel": true, "row-04.code": true, "row-05.code": true}, doubtful(unsure))
	assert.Equal(t, 2, asked, "about panels alone")

	none, _ := read(0)
	assert.Equal(t, map[string]bool{"row-04.code": true, "row-05.code": true}, doubtful(none))
	assert.Equal(t, sheetmodel.Empty, none.Rows[2].Panel.State)
	assert.Equal(t, "D", none.Rows[3].Panel.Text)
	assert.Equal(t, sheetmodel.Clear, none.Rows[3].Panel.State)

	some, _ := read(1)
	assert.Equal(t, map[string]bool{"row-04.code": true, "row-05.code": true}, doubtful(some), "no code is marked by the net's word")
	assert.Equal(t, "C", some.Rows[2].Panel.Text)
	assert.True(t, some.Rows[3].Panel.HasDoubt(sheetmodel.DoubtTwoMarks), "a second mark is two")

	// The embedded net sees a shade for what it is.
	r, err := ocr.Open(ocr.Options{Curves: everyScore(t)})
	require.NoError(t, err)
	defer func() { require.NoError(t, r.Close()) }()
	mat := matOf(t, draw())
	defer mat.Close()
	got, err := r.Read(mat, pagePxPerMM, side, nil)
	require.NoError(t, err)
	assert.Equal(t, sheetmodel.Empty, got.Rows[2].Panel.State)
	assert.Equal(t, "D", got.Rows[3].Panel.Text)
}
