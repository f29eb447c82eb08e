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

// On a list that is ticked, a letter in a box for ticks is asked about, not told as a passage; few ticks are. Our own logic.
func TestRead_LetterAmongTicks_IsAskedAbout(t *testing.T) {
	side := &sheetmodel.Side{Name: sheetmodel.Front, W: 210, H: 250, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	for n := range 125 {
		box := sheetmodel.Rect{X: 20 + 38*sheetmodel.MM(n/25), Y: 10 + 9*sheetmodel.MM(n%25), W: 5, H: 5}
		bib := sheetmodel.Rect{X: box.X - 8, Y: box.Y, W: 4, H: 5}
		side.Print = append(side.Print, sheetmodel.PrintItem{Box: &box, Width: 0.3})
		side.Fields = append(side.Fields,
			sheetmodel.Field{Name: fmt.Sprintf("row-%03d.bib", n+1), Part: sheetmodel.PartBib, Kind: sheetmodel.Printed, Row: n + 1, Rect: bib, Grammar: sheetmodel.GrammarBib, Options: []sheetmodel.Option{{Value: fmt.Sprint(n + 1), Label: fmt.Sprint(n + 1), Rect: bib}}},
			sheetmodel.Field{Name: fmt.Sprintf("row-%03d.passed", n+1), Part: sheetmodel.PartPassed, Kind: sheetmodel.Tick, Row: n + 1, Rect: box, Grammar: sheetmodel.GrammarMark})
	}
	r, err := ocr.Open(ocr.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, r.Close()) }()
	letters, told, ticks, asked := 0, 0, 0, 0
	for seed := range uint64(2) {
		rng := rand.New(rand.NewPCG(seed, 7))
		pen := hand.DrawWriter(camera.Levels()["ordinary"].Pens(), rng)
		area := sheetmodel.Rect{W: side.W, H: side.H}
		ink := hand.NewInk(area, 16)
		for n := range 125 {
			box := side.Field(fmt.Sprintf("row-%03d.passed", n+1)).Rect
			if n%10 == 9 {
				pen.Letter(ink, rune("SMDRK"[n/10%5]), box.Grow(-0.3), rng)
			} else {
				pen.Mark(ink, hand.Tick, box, rng)
			}
		}
		paper := print.RasterBlank(side, 16)
		ink.Over(paper)
		shot := camera.Flat(side.W, side.H, 10)
		patch, err := shot.View().TakePatch(camera.Sheet{Image: paper, PxPerMM: 16}, area)
		require.NoError(t, err)
		page := matOf(t, patch.Straighten(area, pagePxPerMM, nil))
		got, err := r.Read(page, pagePxPerMM, side, nil)
		require.NoError(t, page.Close())
		require.NoError(t, err)
		for _, row := range got.Rows {
			require.NotEqual(t, sheetmodel.Empty, row.Passed.State, "row %d", row.Number)
			certain := row.Passed.State == sheetmodel.Clear
			if row.Number%10 == 0 {
				if letters++; certain {
					told++
				}
			} else if ticks++; !certain {
				asked++
			}
		}
	}
	assert.LessOrEqual(t, told, letters/4, "of %d letters", letters)
	assert.LessOrEqual(t, asked, ticks/15, "of %d ticks", ticks)
}
