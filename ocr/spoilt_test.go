package ocr_test

import (
	"fmt"
	"image"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// plainRows is ten rows with a bib of three digits, which fills its comb, and a gate.
func plainRows(spoil fill.Spoil) fill.Plan {
	p := fill.Plan{}
	for n := 1; n <= 10; n++ {
		p.Rows = append(p.Rows, fill.Row{Number: n, Bib: fmt.Sprint(111 + 31*n), BibSpoil: spoil, Gate: fmt.Sprint(20 + n)})
	}
	return p
}

// firstBox draws a mark where a row's first code box is; a question mark is written at the bib's height.
func firstBox(kind hand.MarkKind, over bool) func(*hand.Ink, *hand.Writer, *rand.Rand) {
	return func(ink *hand.Ink, w *hand.Writer, rng *rand.Rand) {
		side := layout().Side(sheetmodel.Front)
		for n := 1; n <= 10; n++ {
			bib := side.Field(fmt.Sprintf("row-%02d.bib-again", n)).Rect
			box := side.Field(fmt.Sprintf("row-%02d.code", n)).Options[0].Rect
			if kind == hand.Question {
				w.Mark(ink, kind, sheetmodel.Rect{X: box.X, Y: bib.Y + 1.5, W: box.W, H: bib.H - 3}, rng)
				if !over {
					continue
				}
				w.Mark(ink, hand.Tick, box.Grow(-0.6), rng)
				continue
			}
			w.Mark(ink, kind, box.Grow(-0.6), rng)
		}
	}
}

func TestRead_FirstCodeBox_QuestionMarkIsDoubtful_MarksAreNot(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	asked, plain := 0, 0
	for _, c := range []struct {
		name         string
		kind         hand.MarkKind
		over, doubts bool
	}{
		{"question mark", hand.Question, false, true}, {"question mark over a tick", hand.Question, true, true},
		{"tick", hand.Tick, false, false}, {"cross", hand.Cross, false, false}, {"slash", hand.Slash, false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			for seed := range uint64(3) {
				got := read(t, r, sheetmodel.Front, plainRows(fill.Clean), 20+seed, firstBox(c.kind, c.over))
				for _, row := range got.Rows {
					about := row.Bib.HasDoubt(sheetmodel.DoubtQuestionMark)
					if c.doubts {
						assert.NotEqual(t, sheetmodel.Clear, row.Code.State, "seed %d row %d", seed, row.Number)
						assert.True(t, about, "seed %d row %d", seed, row.Number)
						continue
					}
					plain++
					if about {
						asked++
					}
				}
			}
		})
	}
	assert.LessOrEqual(t, asked, plain/12, "plain marks asked about")
}

func TestRead_Overwritten_IsDoubtful_CleanIsNot(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	for _, c := range []struct {
		name  string
		spoil fill.Spoil
	}{{"overwritten", fill.Overwritten}, {"clean", fill.Clean}} {
		t.Run(c.name, func(t *testing.T) {
			named, rows := 0, 0
			for seed := range uint64(4) {
				got := read(t, r, sheetmodel.Front, plainRows(c.spoil), 40+seed, nil)
				for _, row := range got.Rows {
					rows++
					if row.Bib.HasDoubt(sheetmodel.DoubtOverwritten) {
						named++
					}
					if c.spoil == fill.Overwritten {
						assert.Equal(t, sheetmodel.Doubtful, row.Bib.State, "seed %d row %d: %q", seed, row.Number, row.Bib.Text)
					}
				}
			}
			if c.spoil == fill.Overwritten {
				assert.GreaterOrEqual(t, named, rows*9/10, "the reason is named for most")
			} else {
				assert.LessOrEqual(t, named, rows/20)
			}
		})
	}
}

func TestRead_OutsideBox_IsDoubtful_CleanIsNot(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	shifted, waits, clean, asked := 0, 0, 0, 0
	for seed := range uint64(5) {
		plan := fill.Plan{}
		for n := 1; n <= 10; n++ {
			row := fill.Row{Number: n, Bib: fmt.Sprint(7*n + 3), BibAgain: fmt.Sprint(7*n + 3), Gate: fmt.Sprint(20 + n)}
			if n%3 == 2 {
				row.BibSpoil = fill.OutsideBox
			}
			plan.Rows = append(plan.Rows, row)
		}
		got := read(t, r, sheetmodel.Front, plan, 80+seed, nil)
		for i, row := range got.Rows {
			named := row.Bib.HasDoubt(sheetmodel.DoubtOutsideBox)
			if plan.Rows[i].BibSpoil == fill.Clean {
				if row.Number%3 == 0 {
					continue // the bib of the row above reaches into its boxes
				}
				clean++
				if named {
					asked++
				}
				continue
			}
			shifted++
			if named {
				waits++
			} else {
				t.Logf("seed %d row %d: %q, %s, not seen to be outside", seed, row.Number, row.Bib.Text, row.Bib.State)
			}
		}
	}
	assert.GreaterOrEqual(t, waits, shifted-1, "of %d written half a box off", shifted)
	assert.LessOrEqual(t, asked, clean/20, "of %d in their boxes", clean)
}

// grainy is a page of the palest pencil of hard photos, with grain as of a photo taken at dusk: noise of
// the camera, as large as a few pixels of the page.
func grainy(t *testing.T, plan fill.Plan, seed uint64, share float64) *image.Gray {
	page := drawn(t, sheetmodel.Front, camera.Levels()["hard"].Pens(), plan, seed, nil)
	rng := rand.New(rand.NewPCG(seed, 77))
	w, h := page.Rect.Dx(), page.Rect.Dy()
	const coarse = 3
	cw := w/coarse + 2
	noise := make([]float64, cw*(h/coarse+2))
	for i := range noise {
		noise[i] = rng.NormFloat64()
	}
	for y := range h {
		for x := range w {
			fx, fy := float64(x)/coarse, float64(y)/coarse
			i := int(fy)*cw + int(fx)
			ax, ay := fx-float64(int(fx)), fy-float64(int(fy))
			n := (noise[i]*(1-ax)+noise[i+1]*ax)*(1-ay) + (noise[i+cw]*(1-ax)+noise[i+cw+1]*ax)*ay
			at := page.PixOffset(x, y)
			page.Pix[at] = uint8(min(max(float64(page.Pix[at])+255*share*n, 0), 255))
		}
	}
	return page
}

func TestRead_GrainyPage_BlankRowsStayBlank_PalePencilIsNotLost(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	side := layout().Side(sheetmodel.Front)
	plan := fill.Plan{Rows: []fill.Row{
		{Number: 2, Bib: "7", Code: "F"}, {Number: 5, Bib: "31", Code: "K", Gate: "12"}, {Number: 8, Bib: "114"},
	}}
	invented, blank := 0, 0
	for seed := range uint64(4) {
		mat := matOf(t, grainy(t, plan, 60+seed, 0.03))
		got, err := r.Read(mat, pagePxPerMM, side, nil)
		require.NoError(t, mat.Close())
		require.NoError(t, err)
		written := map[int]bool{2: true, 5: true, 8: true}
		for _, row := range got.Rows {
			if written[row.Number] {
				assert.True(t, row.HasInk, "seed %d row %d is lost", seed, row.Number)
				assert.NotEqual(t, sheetmodel.Empty, row.Bib.State, "seed %d row %d", seed, row.Number)
				continue
			}
			blank++
			if row.HasInk {
				invented++
			}
		}
	}
	assert.LessOrEqual(t, invented, blank/3, "blank rows read as written")
}
