package fill_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// Expected values: our own logic.
func TestSide_WritesInTheBoxesThatTheWriterSees(t *testing.T) {
	comb := sheetmodel.Field{
		Name: "row-01.bib", Part: sheetmodel.PartBib, Kind: sheetmodel.Comb, Grammar: sheetmodel.GrammarBib,
		Row: 1, Boxes: 3, Rect: sheetmodel.Rect{X: 2, Y: 2, W: 24, H: 10},
	}
	side := &sheetmodel.Side{Name: sheetmodel.Front, W: 60, H: 30, Fields: []sheetmodel.Field{comb}}
	plan := fill.Plan{Rows: []fill.Row{{Number: 1, Bib: "VVV"}}} // letters need no writer's digits
	seen := func(f sheetmodel.Field, i int) sheetmodel.Rect {
		b := f.Rect.Box(i, f.Boxes)
		b.X, b.Y = b.X+30, b.Y+14
		return b
	}
	moved := sheetmodel.Rect{X: 32, Y: 16, W: 24, H: 10}
	for _, c := range []struct {
		box                func(sheetmodel.Field, int) sheetmodel.Rect
		written, untouched sheetmodel.Rect
	}{{nil, comb.Rect, moved}, {seen, moved, comb.Rect}} {
		rng := rand.New(rand.NewPCG(1, 1))
		pen := hand.DrawWriter(camera.Levels()[camera.Ordinary].Pens(), rng)
		ink := hand.NewInk(sheetmodel.Rect{W: side.W, H: side.H}, 10)
		truth := fill.Side(ink, side, plan, fill.Writer{Pen: pen, Box: c.box}, rng)
		assert.Equal(t, "VVV", truth[comb.Name].Text)
		assert.Less(t, ink.Darkest(c.written), 0.9)
		assert.InDelta(t, 1, ink.Darkest(c.untouched), 1e-9)
	}
}
