//go:build cgo && linux

package reading_test

import (
	"fmt"
	"image"
	"math/rand/v2"
	"slices"
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

// A list on which a fault is another sign than a passage: a tick in a box of its own, or a ring, a dash or a letter
// there. Whatever the sign is, it is the fault of the racer whose row it stands in, and never their passage; a row with
// both is asked about. Source: our own logic.
func TestPassages_FaultIsASignInABoxOfItsOwn_IsReadAsAFault(t *testing.T) {
	if testing.Short() {
		t.Skip("photographs a list")
	}
	l := passageList()
	drawn := &l.Sides[0]
	for i := range drawn.Fields {
		f := &drawn.Fields[i]
		if f.Part == sheetmodel.PartCode { // one box in place of the space for what went wrong
			box := sheetmodel.Rect{X: f.Rect.X + 8, Y: f.Rect.Y + 0.8, W: 4.5, H: 4.5}
			*f = sheetmodel.Field{Name: f.Name, Part: f.Part, Kind: sheetmodel.Choice, Row: f.Row, Rect: box, Grammar: sheetmodel.GrammarCode, Options: []sheetmodel.Option{{Value: "F", Label: "fault", Rect: box}}}
		}
	}
	drawn.Print = slices.DeleteFunc(drawn.Print, func(p sheetmodel.PrintItem) bool { return p.Box != nil })
	for _, f := range drawn.Fields {
		if f.Kind != sheetmodel.Printed {
			r := f.Rect
			drawn.Print = append(drawn.Print, sheetmodel.PrintItem{Box: &r, Width: 0.25})
		}
	}
	plain := *l
	plain.Sides = []sheetmodel.Side{*drawn}
	plain.Sides[0].Print = nil
	forms, err := reading.PrepareBlank(&plain, map[sheetmodel.SideName]*image.Gray{sheetmodel.Front: print.RasterBlank(drawn, 8)})
	require.NoError(t, err)
	r, err := reading.Open(forms, reading.Options{})
	require.NoError(t, err)
	defer r.Close() //nolint:errcheck // only a test

	level := camera.Levels()[camera.Ordinary]
	rng := rand.New(rand.NewPCG(23, 5))
	const sheetPxPerMM = 16.0
	ink := hand.NewInk(sheetmodel.Rect{W: drawn.W, H: drawn.H}, sheetPxPerMM)
	w := hand.DrawWriter(level.Pens(), rng)
	passed, faults := map[int]bool{}, map[int]bool{}
	signs := []func(sheetmodel.Rect){
		func(b sheetmodel.Rect) { w.Mark(ink, hand.Tick, b, rng) },
		func(b sheetmodel.Rect) { w.Mark(ink, hand.Cross, b, rng) },
		func(b sheetmodel.Rect) { w.Mark(ink, hand.Dash, b, rng) },
		func(b sheetmodel.Rect) { w.Mark(ink, hand.Ring, b.Grow(-1.3), rng) },
		func(b sheetmodel.Rect) {
			letter, _ := hand.Letter('F', rng)
			w.Number(ink, []hand.Strokes{letter}, b, -1, rng)
		},
	}
	for n := 1; n <= side200; n++ {
		boxes := drawn.RowFields(n)
		if n%9 == 0 {
			faults[n] = true
			signs[n/9%len(signs)](boxes[2].Rect)
		}
		if n%9 != 0 && n%13 != 0 || n%45 == 0 {
			passed[n] = true
			w.Mark(ink, hand.Tick, boxes[1].Rect, rng)
		}
	}
	paper := print.RasterBlank(drawn, sheetPxPerMM)
	ink.Over(paper)
	shot := level.Draw(fill.SceneOf(drawn, image.Point{}), rng)
	photo, err := shot.View().Take(camera.Sheet{Image: paper, PxPerMM: sheetPxPerMM}, 1)
	require.NoError(t, err)
	p, err := r.Read(t.Context(), "list.jpg", photo.JPEG)
	require.NoError(t, err)
	require.Len(t, p.Cards, 1, "%v", p.Refused)
	told, asked, why := 0, 0, map[string]int{}
	for _, row := range p.Cards[0].Reading.Rows {
		n := row.Number
		require.Equal(t, fmt.Sprint(n), row.Printed)
		switch {
		case passed[n] && faults[n]:
			assert.Equal(t, sheetmodel.Doubtful, row.Passed.State, "bib %d has both", n)
			continue
		case row.Passed.State == sheetmodel.Doubtful || row.Code.State == sheetmodel.Doubtful:
			asked++
			for _, d := range append(row.Passed.Doubts, row.Code.Doubts...) {
				why[d.Detail]++
			}
			continue
		}
		told++
		assert.Equal(t, passed[n], row.Passed.State == sheetmodel.Clear, "bib %d: passage", n)
		if assert.Equal(t, faults[n], row.Code.State == sheetmodel.Clear, "bib %d: fault", n) && faults[n] {
			assert.Equal(t, "F", row.Code.Text)
			assert.Equal(t, row.Printed, row.Bib.Text)
			assert.Equal(t, sheetmodel.Doubtful, row.Bib.State, "print is one look: a person gives the other")
		}
	}
	t.Logf("%d rows told, %d asked: %v", told, asked, why)
	assert.Greater(t, told, 140) // else a person might as well read the list
}

const side200 = 200 // rows of passageList
