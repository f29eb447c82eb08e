package ocr_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// dittos draws two strokes side by side into one box of the bibs of rows 2 to 9.
func dittos(side *sheetmodel.Side) func(*hand.Ink, *hand.Writer, *rand.Rand) {
	return func(ink *hand.Ink, w *hand.Writer, rng *rand.Rand) {
		for row := 2; row <= 9; row++ {
			f := side.Field(fmt.Sprintf("row-%02d.bib", row))
			box := f.Rect.Box(rng.IntN(f.Boxes), f.Boxes)
			size, gap := sheetmodel.MM(2+1.2*rng.Float64()), sheetmodel.MM(1.6+1.2*rng.Float64())
			x, y := box.X+box.W/2-gap/2-size/2, box.Y+sheetmodel.MM(1+2.5*rng.Float64())
			for k := range 2 {
				w.Mark(ink, hand.Slash, sheetmodel.Rect{X: x + sheetmodel.MM(k)*gap, Y: y, W: size, H: size}, rng)
			}
		}
	}
}

// A ditto mark is no bib: none may be clear, common practice, no source. That most are named as what they are is
// measured: 82 of 192 were when this was written, the others "no number".
func TestDitto(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	side := layout().Side(sheetmodel.Front)
	named, all := 0, 0
	for _, level := range []string{camera.Ordinary, camera.Hard} {
		for seed := range uint64(*manyDittos) {
			plan := fill.Plan{Rows: []fill.Row{{Number: 1, Bib: "47", Code: "F", Gate: "3"}}}
			page := matOf(t, drawn(t, sheetmodel.Front, camera.Levels()[level].Pens(), plan, 900+seed, dittos(side)))
			read, err := r.Read(page, pagePxPerMM, side, nil)
			require.NoError(t, err)
			require.NoError(t, page.Close())
			for _, row := range read.Rows[1:9] {
				all++
				require.NotEqual(t, sheetmodel.Clear, row.Bib.State, "%s %d row %d: %q", level, seed, row.Number, row.Bib.Text)
				if row.Bib.HasDoubt(sheetmodel.DoubtDitto) {
					named++
				}
			}
		}
	}
	t.Logf("%d of %d ditto marks named", named, all)
	require.Greater(t, named*4, all)
}

// Written numbers are no ditto marks.
func TestDitto_Numbers(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	side := layout().Side(sheetmodel.Front)
	named, all := 0, 0
	for _, level := range []string{camera.Ordinary, camera.Hard} {
		for seed := range uint64(*manyDittos) {
			var plan fill.Plan
			rng := rand.New(rand.NewPCG(seed, 77))
			for n := 1; n <= 9; n++ {
				plan.Rows = append(plan.Rows, fill.Row{Number: n, Bib: fmt.Sprint(1 + rng.IntN(120)), BibAgain: fmt.Sprint(1 + rng.IntN(120)), Code: "F", Gate: fmt.Sprint(1 + rng.IntN(40))})
			}
			page := matOf(t, drawn(t, sheetmodel.Front, camera.Levels()[level].Pens(), plan, 4000+seed, nil))
			read, err := r.Read(page, pagePxPerMM, side, nil)
			require.NoError(t, err)
			require.NoError(t, page.Close())
			for _, row := range read.Rows[:9] {
				for _, x := range []sheetmodel.Reading{row.Bib, row.BibAgain, row.Gate} {
					all++
					if x.HasDoubt(sheetmodel.DoubtDitto) {
						named++
						t.Logf("%s %d row %d %s: %q", level, seed, row.Number, x.Field, x.Text)
					}
				}
			}
		}
	}
	t.Logf("%d of %d numbers taken for ditto marks", named, all)
	require.LessOrEqual(t, named*100, all)
}

var manyDittos = flag.Int("dittos", 2, "cards a level on which TestDitto looks; 12 for the figure")
