package ocr_test

import (
	stdcontext "context"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/ocr"
	"gatefold/ocr/calib"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

func context() stdcontext.Context { return stdcontext.Background() } // shared by all tests of the package

// read fills, photographs and reads one side.
func read(t testing.TB, r *ocr.Reader, name sheetmodel.SideName, plan fill.Plan, seed uint64, after func(*hand.Ink, *hand.Writer, *rand.Rand)) sheetmodel.SheetReading {
	page := filled(t, name, plan, seed, after)
	defer func() { require.NoError(t, page.Close()) }()
	got, err := r.Read(page, pagePxPerMM, layout().Side(name), nil)
	require.NoError(t, err)
	return got
}

func all(s sheetmodel.SheetReading) map[string]sheetmodel.Reading {
	out := map[string]sheetmodel.Reading{}
	add := func(x sheetmodel.Reading) {
		if x.Field != "" {
			out[x.Field] = x
		}
	}
	for _, x := range s.Header {
		add(x)
	}
	for _, r := range s.Rows {
		for _, x := range []sheetmodel.Reading{r.Bib, r.BibAgain, r.Code, r.CodeOther, r.Gate, r.Panel, r.Rerun} {
			add(x)
		}
	}
	for _, e := range s.Strips {
		add(e.Bib)
	}
	for _, x := range s.Ink {
		add(x)
	}
	return out
}

func TestRead_BlankCard_EverythingIsEmpty(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	for _, name := range []sheetmodel.SideName{sheetmodel.Front, sheetmodel.Back} {
		got := read(t, r, name, fill.Plan{}, 1, nil)
		fields := all(got)
		assert.Len(t, fields, fillable(layout().Side(name)), "every field has a reading")
		for field, x := range fields {
			assert.Equal(t, sheetmodel.Empty, x.State, field)
		}
		for _, row := range got.Rows {
			assert.False(t, row.HasInk, "row %d", row.Number)
		}
	}
}

func fillable(s *sheetmodel.Side) int {
	n := 0
	for _, f := range s.Fields {
		if f.Kind != sheetmodel.Printed {
			n++
		}
	}
	return n
}

// cleanPlan is a card as it should be filled.
func cleanPlan() fill.Plan {
	codes := []string{"F", "K", "W", "P", "H"}
	p := fill.Plan{Header: map[string]string{"foot.row-count": "5", "header.group": "U12 m", "header.course": "red"}}
	for n := 1; n <= 5; n++ {
		p.Rows = append(p.Rows, fill.Row{
			Number: n, Bib: fmt.Sprint(17 * n), BibAgain: fmt.Sprint(17 * n), Code: codes[n-1], Gate: fmt.Sprint(3 * n), Panel: "B", Rerun: n == 2,
		})
	}
	return p
}

func TestRead_CleanCard_MarksAreRight_NoClearTextIsWrong(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	certain, numbers := 0, 0
	for seed := range uint64(4) {
		plan := cleanPlan()
		got := read(t, r, sheetmodel.Front, plan, seed, nil)
		for i, row := range got.Rows {
			if i >= len(plan.Rows) {
				assert.False(t, row.HasInk, "row %d", row.Number)
				continue
			}
			want := plan.Rows[i]
			assert.True(t, row.HasInk)
			assert.False(t, row.Struck)
			assert.Equal(t, want.Code, row.Code.Text)
			assert.Equal(t, want.Panel, row.Panel.Text)
			assert.Equal(t, want.Rerun, row.Rerun.State != sheetmodel.Empty)
			for text, x := range map[string]sheetmodel.Reading{want.Bib: row.Bib, want.Gate: row.Gate} {
				numbers++
				require.NotEqual(t, sheetmodel.Empty, x.State, x.Field)
				if x.State == sheetmodel.Clear {
					certain++
					assert.Equal(t, text, x.Text, x.Field)
				}
			}
		}
		group, _ := got.Field("header.group")
		assert.Equal(t, "U12 m", group.Text)
	}
	assert.Greater(t, certain, numbers*6/10, "most numbers of a well filled card are clear")
}

// Pale writing may be asked about, but it never becomes another number.
func TestRead_LessContrast_NeverAnotherClearText(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	page := filled(t, sheetmodel.Front, cleanPlan(), 7, nil)
	defer func() { require.NoError(t, page.Close()) }()
	side := layout().Side(sheetmodel.Front)
	before, err := r.Read(page, pagePxPerMM, side, nil)
	require.NoError(t, err)
	full := all(before)
	for _, share := range []float32{0.7, 0.4, 0.2} {
		dim := gocv.NewMat()
		// Towards the paper's grey of about 220.
		page.ConvertToWithParams(&dim, gocv.MatTypeCV8U, share, 220*(1-share))
		got, err := r.Read(dim, pagePxPerMM, side, nil)
		require.NoError(t, err)
		require.NoError(t, dim.Close())
		for field, x := range all(got) {
			if x.State == sheetmodel.Clear && full[field].State == sheetmodel.Clear {
				assert.Equal(t, full[field].Text, x.Text, "%s at %.1f", field, share)
			}
		}
		for i, row := range got.Rows {
			assert.Equal(t, before.Rows[i].HasInk, row.HasInk, "row %d at %.1f", row.Number, share)
		}
	}
}

func TestRead_Trouble_IsDoubtful(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	for _, c := range []struct {
		spoil fill.Spoil
		want  sheetmodel.DoubtKind // "": any
	}{
		{fill.Struck, sheetmodel.DoubtStruckOut}, {fill.OutsideBox, ""}, {fill.Dash, sheetmodel.DoubtNotInGrammar},
	} {
		t.Run(string(c.spoil), func(t *testing.T) {
			plan := fill.Plan{}
			for n := 1; n <= 10; n++ {
				plan.Rows = append(plan.Rows, fill.Row{Number: n, Bib: fmt.Sprint(111 + 31*n), BibSpoil: c.spoil})
			}
			got := read(t, r, sheetmodel.Front, plan, 3, nil)
			reasons := 0
			for _, row := range got.Rows {
				assert.True(t, row.HasInk)
				assert.Equal(t, sheetmodel.Doubtful, row.Bib.State, "row %d: %q", row.Number, row.Bib.Text)
				if row.Bib.HasDoubt(c.want) {
					reasons++
				}
			}
			if c.want != "" {
				assert.GreaterOrEqual(t, reasons, 5, "the reason is named for most")
			}
		})
	}
}

func TestRead_RowStruckOut_IsStruckAndNotLost(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	plan := cleanPlan()
	for i := range plan.Rows {
		plan.Rows[i].Struck = i%2 == 0
	}
	got := read(t, r, sheetmodel.Front, plan, 5, nil)
	for i, want := range plan.Rows {
		row := got.Rows[i]
		assert.True(t, row.HasInk)
		assert.Equal(t, want.Struck, row.Struck, "row %d", row.Number)
		if want.Struck {
			assert.Equal(t, sheetmodel.Doubtful, row.Bib.State)
			assert.Equal(t, sheetmodel.Doubtful, row.Code.State)
		}
	}
}

func TestRead_TwoCodesTicked_IsDoubtfulWithBoth(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	plan := cleanPlan()
	got := read(t, r, sheetmodel.Front, plan, 6, func(ink *hand.Ink, w *hand.Writer, rng *rand.Rand) {
		f := layout().Side(sheetmodel.Front).Field("row-01.code")
		w.Mark(ink, hand.Cross, f.Options[3].Rect.Grow(-0.8), rng)
	})
	code := got.Rows[0].Code
	assert.Equal(t, sheetmodel.Doubtful, code.State)
	assert.True(t, code.HasDoubt(sheetmodel.DoubtTwoMarks))
	texts := []string{code.Text}
	for _, v := range code.Rivals {
		texts = append(texts, v.Text)
	}
	assert.Contains(t, texts, "F")
	assert.Contains(t, texts, "P")
}

func TestRead_NoteInTheMargin_MakesItsRowDoubtful(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	got := read(t, r, sheetmodel.Front, cleanPlan(), 8, func(ink *hand.Ink, w *hand.Writer, rng *rand.Rand) {
		f := layout().Side(sheetmodel.Front).Field("row-03.bib")
		w.Mark(ink, hand.Cross, sheetmodel.Rect{X: f.Rect.X - 11, Y: f.Rect.Y + 2, W: 5, H: 6}, rng)
	})
	assert.Equal(t, sheetmodel.Doubtful, got.Rows[2].Bib.State)
	assert.True(t, got.Rows[2].Bib.HasDoubt(sheetmodel.DoubtOutsideBox))
	assert.False(t, got.Rows[0].Bib.HasDoubt(sheetmodel.DoubtOutsideBox))
}

func TestRead_Hidden_IsDoubtfulEvenWithoutInk(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	page := filled(t, sheetmodel.Front, fill.Plan{}, 9, nil)
	defer func() { require.NoError(t, page.Close()) }()
	side := layout().Side(sheetmodel.Front)
	row4 := side.Field("row-04.bib").Rect
	got, err := r.Read(page, pagePxPerMM, side, row4.Overlaps)
	require.NoError(t, err)
	assert.Equal(t, sheetmodel.Doubtful, got.Rows[3].Bib.State)
	assert.True(t, got.Rows[3].Bib.HasDoubt(sheetmodel.DoubtHidden))
	assert.True(t, got.Rows[3].HasInk, "what can't be seen may hold ink")
	assert.Equal(t, sheetmodel.Empty, got.Rows[4].Bib.State)
}

func TestRead_NotThisSide_IsAnError(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	page := gocv.NewMatWithSize(600, 600, gocv.MatTypeCV8U)
	defer func() { require.NoError(t, page.Close()) }()
	_, err := r.Read(page, pagePxPerMM, layout().Side(sheetmodel.Front), nil)
	require.ErrorContains(t, err, "straighten with this side's layout")
	colour := gocv.NewMatWithSize(1680, 1184, gocv.MatTypeCV8UC3)
	defer func() { require.NoError(t, colour.Close()) }()
	_, err = r.Read(colour, pagePxPerMM, layout().Side(sheetmodel.Front), nil)
	require.ErrorContains(t, err, "grey")
}

func TestOpen_OtherCurves_NothingIsClear(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	assert.True(t, r.Calibrated())
	assert.NotContains(t, r.Version(), "uncalibrated")
}

// noNets answers at once: what is left is ink, marks and trouble.
type noNets struct{}

func (noNets) Classify(_ []byte, _ int, _ float64, boxes []sheetmodel.Rect) (a, b []ocr.Dist, err error) {
	for range boxes {
		d := ocr.Dist{}
		d[ocr.ClassOther] = 1
		a, b = append(a, d), append(b, d)
	}
	return a, b, nil
}

func (noNets) Weights() string { return "none" }

func (noNets) Close() error { return nil }

// Ten rows filled, without classification.
func BenchmarkRead_InkOnly(b *testing.B) {
	r, err := ocr.Open(ocr.Options{Nets: noNets{}})
	require.NoError(b, err)
	defer func() { require.NoError(b, r.Close()) }()
	plan := cleanPlan()
	for n := 6; n <= 10; n++ {
		row := plan.Rows[n-6]
		row.Number = n
		plan.Rows = append(plan.Rows, row)
	}
	page := filled(b, sheetmodel.Front, plan, 2, nil)
	defer func() { require.NoError(b, page.Close()) }()
	side := layout().Side(sheetmodel.Front)
	for b.Loop() {
		if _, err := r.Read(page, pagePxPerMM, side, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// Four rows filled, as on the speed card.
func BenchmarkRead(b *testing.B) {
	r := open(b)
	defer func() { require.NoError(b, r.Close()) }()
	plan := cleanPlan()
	plan.Rows = plan.Rows[:4]
	page := filled(b, sheetmodel.Front, plan, 2, nil)
	defer func() { require.NoError(b, page.Close()) }()
	side := layout().Side(sheetmodel.Front)
	for b.Loop() {
		if _, err := r.Read(page, pagePxPerMM, side, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// New weights need new curves: cmd/calibrate read and fit. Until then nothing would be clear.
func TestOpen_EmbeddedCurvesBelongToTheEmbeddedWeights(t *testing.T) {
	r, err := ocr.Open(ocr.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, r.Close()) }()
	assert.True(t, r.Calibrated())
	for _, k := range calib.Kinds {
		j := r.Curves().File().Kinds[k]
		assert.NotEmpty(t, j.Curve.Score, "%s has a curve", k)
		assert.Equal(t, calib.Tried, j.Threshold.Tries, "%s", k)
		assert.Positive(t, j.Threshold.N, "%s", k)
	}
}
