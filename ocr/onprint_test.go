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

// lined is a table whose combs share their lines with each other and with the cells beside them.
func lined() *sheetmodel.Layout {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 150, H: 210, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	for n := 1; n <= 32; n++ {
		x, y := 15+70*sheetmodel.MM((n-1)/16), 15+10.5*sheetmodel.MM((n-1)%16)
		comb := sheetmodel.Rect{X: x, Y: y, W: 24, H: 10.5}
		cell := sheetmodel.Rect{X: x + 24, Y: y, W: 16, H: 10.5}
		for _, b := range []sheetmodel.Rect{comb.Box(0, 3), comb.Box(1, 3), comb.Box(2, 3), cell} {
			side.Print = append(side.Print, sheetmodel.PrintItem{Box: &b, Width: 0.6})
		}
		side.Fields = append(side.Fields,
			sheetmodel.Field{Name: fmt.Sprintf("row-%02d.bib", n), Part: sheetmodel.PartBib, Kind: sheetmodel.Comb, Boxes: 3, Row: n, Rect: comb, Grammar: sheetmodel.GrammarBib},
			sheetmodel.Field{Name: fmt.Sprintf("row-%02d.code", n), Part: sheetmodel.PartCode, Kind: sheetmodel.Cell, Row: n, Rect: cell, Grammar: sheetmodel.GrammarCodeGate})
	}
	return &sheetmodel.Layout{Format: 1, Name: "lined", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{side}}
}

// readLined writes into the rows of a lined table and reads it, by row.
func readLined(t *testing.T, r *ocr.Reader, seed uint64, write func(n int, comb sheetmodel.Rect, digit func(d int, x sheetmodel.MM))) map[int]sheetmodel.Reading {
	m, err := mnist()
	require.NoError(t, err)
	side := &lined().Sides[0]
	rng := rand.New(rand.NewPCG(seed, 7))
	pen := hand.DrawWriter(camera.Levels()["ordinary"].Pens(), rng)
	const inkPxPerMM = 16
	area := sheetmodel.Rect{W: side.W, H: side.H}
	ink := hand.NewInk(area, inkPxPerMM)
	for n := 1; n <= side.Rows(); n++ {
		comb := side.Field(fmt.Sprintf("row-%02d.bib", n)).Rect
		write(n, comb, func(d int, x sheetmodel.MM) {
			g, _ := writer{m, int(seed) * 100}.Digit(d, rng)
			pen.DigitAt(ink, g, sheetmodel.SheetPoint{X: x, Y: comb.Center().Y}, 5.5, rng)
		})
	}
	paper := print.RasterBlank(side, inkPxPerMM)
	ink.Over(paper)
	shot := camera.Flat(side.W, side.H, 10)
	patch, err := shot.View().TakePatch(camera.Sheet{Image: paper, PxPerMM: inkPxPerMM}, area)
	require.NoError(t, err)
	page := matOf(t, patch.Straighten(area, pagePxPerMM, nil))
	defer func() { require.NoError(t, page.Close()) }()
	got, err := r.Read(page, pagePxPerMM, side, nil)
	require.NoError(t, err)
	out := map[int]sheetmodel.Reading{}
	for _, row := range got.Rows {
		out[row.Number] = row.Bib
	}
	return out
}

// A 1 that stands on the line between two boxes, or just beside it, hides behind it. What is left is another bib, and is
// not certain. Our own logic.
func TestRead_AOneOnALine_IsNoShorterNumber(t *testing.T) {
	r, err := ocr.Open(ocr.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, r.Close()) }()
	hidden, asked := 0, 0
	for seed := uint64(1); seed <= 1; seed++ {
		for n, x := range readLined(t, r, seed, func(n int, comb sheetmodel.Rect, digit func(int, sheetmodel.MM)) {
			switch n % 4 {
			case 1: // on the line, and up to 0.2 mm to each side
				digit(1, comb.X+8+sheetmodel.MM(n/4-4)*0.05)
				digit(2, comb.X+12.3)
			case 2, 3:
				digit(4+n%5, comb.X+12)
				digit(n%10, comb.X+20)
			}
		}) {
			if n%4 == 1 {
				hidden++
				if x.HasDoubt(sheetmodel.DoubtOnPrint) {
					asked++
				}
				assert.False(t, x.State == sheetmodel.Clear && x.Text != "12", "hand %d, row %d: read as %q", seed, n, x.Text)
			}
		}
	}
	assert.Greater(t, asked, hidden/4, "others are seen beside the line, and read or doubted for that")
}

// Numbers that stand where they should have nothing on their lines, whatever stands beside them. Our own logic.
func TestRead_NumbersInTheirBoxes_LeaveTheLinesAlone(t *testing.T) {
	r, err := ocr.Open(ocr.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, r.Close()) }()
	for seed := uint64(11); seed <= 11; seed++ {
		for n, x := range readLined(t, r, seed, func(n int, comb sheetmodel.Rect, digit func(int, sheetmodel.MM)) {
			if n%4 > 0 {
				digit(n%10, comb.X+4+sheetmodel.MM(n%3-1)*0.8)
				digit((n+3)%10, comb.X+12)
				digit((n+5)%10, comb.X+20-sheetmodel.MM(n%3-1)*0.8)
				digit((n+7)%10, comb.X+26.6) // in the cell beside it, over its line or nearly
			}
		}) {
			assert.False(t, x.HasDoubt(sheetmodel.DoubtOnPrint), "hand %d, row %d: %q", seed, n, x.Text)
		}
	}
}
