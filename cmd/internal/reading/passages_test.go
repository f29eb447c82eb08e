//go:build cgo && linux

package reading_test

import (
	"flag"
	"fmt"
	"image"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/cmd/internal/reading"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

var (
	passageCards = flag.Int("passage-cards", 1, "cards with 200 bibs each to photograph and read")
	passageSeed  = flag.Uint64("passage-seed", 41, "of all chance")
	passageShare = flag.Float64("passage-share", 0.85, "of the racers who came by")
	passageLevel = flag.String("passage-level", camera.Ordinary, "of the camera: ordinary or hard")
)

// passageList is a page of 200 bibs in print, five columns, a box to tick and a space for what went wrong beside each.
func passageList() *sheetmodel.Layout {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 210, H: 297, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	word := func(x, y, size sheetmodel.MM, text string) {
		side.Print = append(side.Print, sheetmodel.PrintItem{Text: text, At: sheetmodel.SheetPoint{X: x, Y: y}, Size: size})
	}
	word(12, 16, 4, "Who came by, Larch Hollow")
	word(12, 23, 2.2, "A tick for each racer who passes; else what you saw and the gate.")
	for n := 1; n <= 200; n++ {
		x, y := 11+38*sheetmodel.MM((n-1)/40), 30+6.4*sheetmodel.MM((n-1)%40)
		word(x, y+4.2, 2.4, fmt.Sprint(n))
		name := fmt.Sprintf("row-%03d.", n)
		bib := sheetmodel.Rect{X: x, Y: y, W: 8, H: 6}
		tick, code := sheetmodel.Rect{X: x + 9, Y: y + 0.8, W: 4.5, H: 4.5}, sheetmodel.Rect{X: x + 16, Y: y, W: 20, H: 6.2}
		for _, r := range []sheetmodel.Rect{tick, code} {
			side.Print = append(side.Print, sheetmodel.PrintItem{Box: &r, Width: 0.25})
		}
		side.Fields = append(side.Fields,
			sheetmodel.Field{Name: name + "bib", Part: sheetmodel.PartBib, Kind: sheetmodel.Printed, Row: n, Rect: bib, Grammar: sheetmodel.GrammarBib, Options: []sheetmodel.Option{{Value: fmt.Sprint(n), Label: fmt.Sprint(n), Rect: bib}}},
			sheetmodel.Field{Name: name + "passed", Part: sheetmodel.PartPassed, Kind: sheetmodel.Tick, Row: n, Rect: tick, Grammar: sheetmodel.GrammarMark},
			sheetmodel.Field{Name: name + "code", Part: sheetmodel.PartCode, Kind: sheetmodel.Cell, Row: n, Rect: code, Grammar: sheetmodel.GrammarCodeGate})
	}
	return &sheetmodel.Layout{Format: 1, Name: "passages", Version: 1, Style: sheetmodel.EveryRacer, Sides: []sheetmodel.Side{side}}
}

// ownStrokes are digits of our own drawing: marks are measured here, not digits.
type ownStrokes struct{}

func (ownStrokes) Digit(d int, rng *rand.Rand) (hand.Strokes, int) {
	s, _ := hand.Letter(rune('0'+d), rng)
	return s, -1
}

// writePassages marks most racers and notes a fault for some, and returns who is marked.
func writePassages(ink *hand.Ink, side *sheetmodel.Side, w fill.Writer, share float64, rng *rand.Rand) map[int]bool {
	marked := map[int]bool{}
	write := func(f sheetmodel.Field, text string) {
		f.Row = 0
		only := &sheetmodel.Side{Name: side.Name, W: side.W, H: side.H, Fields: []sheetmodel.Field{f}}
		fill.Side(ink, only, fill.Plan{Header: map[string]string{f.Name: text}}, w, rng)
	}
	for n := 1; n <= side.Rows(); n++ {
		fields := side.RowFields(n)
		switch p := rng.Float64(); {
		case p < share:
			marked[n] = true
			write(fields[1], "x")
		case p < share+0.03:
			write(fields[2], "M 12")
		}
	}
	return marked
}

// The one promise of a mark: told or asked, never told wrongly. A row with more ink than its mark is a person's matter.
// Source of the expectation: our own logic; the truth is what the simulated writer meant.
func TestPassages_TwoHundredBibs_NoMarkIsToldWrongly(t *testing.T) {
	if testing.Short() {
		t.Skip("takes a minute")
	}
	list := listOf200(t)
	drawn, blank := list.side, list.paper
	const sheetPxPerMM = 16.0
	r, err := reading.Open(list.forms, reading.Options{})
	require.NoError(t, err)
	defer r.Close() //nolint:errcheck // only a test
	level := camera.Levels()[*passageLevel]
	why := map[string]int{}
	marks, told, asked, wrong, refused, read := 0, 0, 0, 0, 0, 0
	for i := range *passageCards {
		rng := rand.New(rand.NewPCG(*passageSeed, uint64(i)))
		ink := hand.NewInk(sheetmodel.Rect{W: drawn.W, H: drawn.H}, sheetPxPerMM)
		marked := writePassages(ink, drawn, fill.Writer{Pen: hand.DrawWriter(level.Pens(), rng), Digits: ownStrokes{}}, *passageShare, rng)
		paper := &image.Gray{Pix: append([]byte(nil), blank.Pix...), Stride: blank.Stride, Rect: blank.Rect}
		ink.Over(paper)
		shot := level.Draw(fill.SceneOf(drawn, image.Point{}), rng)
		photo, err := shot.View().Take(camera.Sheet{Image: paper, PxPerMM: sheetPxPerMM}, 1)
		require.NoError(t, err)
		p, err := r.Read(t.Context(), "list.jpg", photo.JPEG)
		require.NoError(t, err)
		if len(p.Cards) == 0 {
			t.Logf("card %d refused: %s", i, p.Refused)
			refused++
			continue
		}
		read++
		rows := p.Cards[0].Reading.Rows
		require.Len(t, rows, 200)
		for _, row := range rows {
			require.Equal(t, fmt.Sprint(row.Number), row.Printed)
			marks++
			switch {
			case row.Passed.State == sheetmodel.Doubtful:
				asked++
				for _, d := range row.Passed.Doubts {
					why[d.Detail]++
				}
			case (row.Passed.State == sheetmodel.Clear) != marked[row.Number]:
				wrong++
				t.Logf("card %d bib %d: %s, marked %t", i, row.Number, row.Passed.State, marked[row.Number])
			default:
				told++
			}
		}
	}
	t.Logf("%s, seed %d: %d cards read, %d refused; %d marks: %d told, %d asked, %d told wrongly", *passageLevel, *passageSeed, read, refused, marks, told, asked, wrong)
	assert.Positive(t, read)
	assert.Zero(t, wrong)
	assert.Positive(t, told)
	t.Logf("asked for: %v", why)
}

// A form that is not the one prepared is refused, never read as if it were.
func TestPrepareBlank_PhotoOfAnotherForm_IsRefused(t *testing.T) {
	l := passageList()
	blank := print.RasterBlank(&l.Sides[0], 8)
	forms, err := reading.PrepareBlank(l, map[sheetmodel.SideName]*image.Gray{sheetmodel.Front: blank})
	require.NoError(t, err)
	r, err := reading.Open(forms, reading.Options{})
	require.NoError(t, err)
	defer r.Close() //nolint:errcheck // only a test
	other := sheetmodel.BuiltinLayouts()[0]
	rng := rand.New(rand.NewPCG(7, 7))
	shot := camera.Levels()[camera.Ordinary].Draw(fill.SceneOf(&other.Sides[0], image.Point{}), rng)
	photo, err := shot.View().Take(camera.Sheet{Image: print.RasterBlank(&other.Sides[0], 16), PxPerMM: 16}, 1)
	require.NoError(t, err)
	p, err := r.Read(t.Context(), "other.jpg", photo.JPEG)
	require.NoError(t, err)
	assert.Empty(t, p.Cards)
	require.NotNil(t, p.Refused)
	assert.NotEmpty(t, p.Refused.Remedy)
}

// Two seasons' cards that look alike to the px: nobody can say which one a photo shows, so it is refused with both names.
// Our own logic.
func TestPrepareBlank_TwoFormsThatLookAlike_PhotoIsRefusedWithBothNames(t *testing.T) {
	if testing.Short() {
		t.Skip("takes a photo")
	}
	own := passageList()
	last := passageList()
	last.Name = "passages-of-last-season"
	blank := map[sheetmodel.SideName]*image.Gray{sheetmodel.Front: print.RasterBlank(&own.Sides[0], 8)}
	one, err := reading.PrepareBlank(own, blank)
	require.NoError(t, err)
	other, err := reading.PrepareBlank(last, blank)
	require.NoError(t, err)
	like, err := reading.Alike(one, blank[sheetmodel.Front])
	require.NoError(t, err)
	require.NotNil(t, like, "whoever admits the second is told so")
	assert.Equal(t, own.Name, like.Name)

	level := camera.Levels()[camera.Ordinary]
	rng := rand.New(rand.NewPCG(17, 3))
	shot := level.Draw(fill.SceneOf(&own.Sides[0], image.Point{}), rng)
	photo, err := shot.View().Take(camera.Sheet{Image: print.RasterBlank(&own.Sides[0], 16), PxPerMM: 16}, 1)
	require.NoError(t, err)
	read := func(forms *reading.Forms) reading.Photo {
		r, err := reading.Open(forms, reading.Options{})
		require.NoError(t, err)
		defer r.Close() //nolint:errcheck // only a test
		p, err := r.Read(t.Context(), "list.jpg", photo.JPEG)
		require.NoError(t, err)
		return p
	}
	p := read(one)
	require.Len(t, p.Cards, 1, "%v", p.Refused)
	assert.Equal(t, own.Hash(), p.Cards[0].LayoutHash, "the layout as it is kept, without the print that was traced")
	assert.True(t, p.Cards[0].Plain)
	p = read(one.And(other))
	assert.Empty(t, p.Cards)
	require.NotNil(t, p.Refused)
	assert.Equal(t, "two-forms", p.Refused.Fault)
	assert.Contains(t, p.Refused.Detail, own.Name)
	assert.Contains(t, p.Refused.Detail, last.Name)
}
