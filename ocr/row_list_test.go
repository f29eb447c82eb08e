package ocr_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// readTickedList reads the straightened page of a list of four bibs in print, with ticks in rows 1 and 2.
func readTickedList(t *testing.T, change func(*sheetmodel.Side), hidden func(sheetmodel.Rect) bool) sheetmodel.SheetReading {
	t.Helper()
	side := &sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 105, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	for n := 1; n <= 4; n++ {
		box := sheetmodel.Rect{X: 40, Y: 10 + 20*sheetmodel.MM(n-1), W: 5, H: 5}
		bib := sheetmodel.Rect{X: 20, Y: box.Y, W: 10, H: 6}
		side.Print = append(side.Print, sheetmodel.PrintItem{Box: &box, Width: 0.3})
		side.Fields = append(side.Fields,
			sheetmodel.Field{Name: fmt.Sprintf("row-%02d.bib", n), Part: sheetmodel.PartBib, Kind: sheetmodel.Printed, Row: n, Rect: bib, Grammar: sheetmodel.GrammarBib, Options: []sheetmodel.Option{{Value: fmt.Sprint(n), Label: fmt.Sprint(n), Rect: bib}}},
			sheetmodel.Field{Name: fmt.Sprintf("row-%02d.passed", n), Part: sheetmodel.PartPassed, Kind: sheetmodel.Tick, Row: n, Rect: box, Grammar: sheetmodel.GrammarMark})
	}
	rng := rand.New(rand.NewPCG(5, 7))
	pen := hand.DrawWriter(camera.Levels()["ordinary"].Pens(), rng)
	area := sheetmodel.Rect{W: side.W, H: side.H}
	ink := hand.NewInk(area, 16)
	for n := 1; n <= 2; n++ {
		pen.Mark(ink, hand.Tick, side.Field(fmt.Sprintf("row-%02d.passed", n)).Rect, rng)
	}
	paper := print.RasterBlank(side, 16)
	ink.Over(paper)
	if change != nil {
		change(side)
	}
	shot := camera.Flat(side.W, side.H, 10)
	patch, err := shot.View().TakePatch(camera.Sheet{Image: paper, PxPerMM: 16}, area)
	require.NoError(t, err)
	r, err := ocr.Open(ocr.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, r.Close()) }()
	page := matOf(t, patch.Straighten(area, pagePxPerMM, nil))
	got, err := r.Read(page, pagePxPerMM, side, hidden)
	require.NoError(t, page.Close())
	require.NoError(t, err)
	require.Len(t, got.Rows, 4)
	return got
}

// A tick beside a bib in print that isn't seen as it was printed, struck out say, says of nobody that they came by. Our own logic.
func TestRead_TickBesideAHiddenBibInPrint_IsAsked(t *testing.T) {
	bib := sheetmodel.Rect{X: 20, Y: 30, W: 10, H: 6} // row 2's
	rows := readTickedList(t, nil, bib.Overlaps).Rows
	assert.Equal(t, sheetmodel.Clear, rows[0].Passed.State, "%v", rows[0].Passed.Doubts)
	assert.Equal(t, sheetmodel.Doubtful, rows[1].Passed.State)
	assert.True(t, rows[1].Passed.HasDoubt(sheetmodel.DoubtHidden))
	assert.NotEqual(t, sheetmodel.Clear, rows[2].Passed.State, "nothing was written")
}

// A layout of an earlier day, with two places for one thing in a row: what stands in either is kept and asked about, wherever it stands.
// Our own logic.
func TestRead_TwoPlacesForOneThingInARow_NeitherIsLost(t *testing.T) {
	for _, first := range []bool{true, false} {
		rows := readTickedList(t, func(side *sheetmodel.Side) {
			var all []sheetmodel.Field
			for _, f := range side.Fields {
				again := f
				again.Name, again.Rect.X = f.Name+"-again", 90
				switch {
				case f.Part != sheetmodel.PartPassed:
					all = append(all, f)
				case first:
					all = append(all, f, again)
				default:
					all = append(all, again, f)
				}
			}
			side.Fields = all
		}, nil).Rows
		for _, row := range rows[:2] {
			assert.Equal(t, sheetmodel.Doubtful, row.Passed.State)
			assert.True(t, row.Passed.HasDoubt(sheetmodel.DoubtTwoMarks))
			assert.Equal(t, fmt.Sprintf("row-%02d.passed", row.Number), row.Passed.Field, "the one with ink")
		}
		assert.NotEqual(t, sheetmodel.Clear, rows[3].Passed.State, "nothing was written")
	}
}
