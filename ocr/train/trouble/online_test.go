package trouble

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// Where an upright stroke of 5 mm stands decides, whatever the pen. Expected values: our own logic.
func TestHidden_UprightStrokeOnALineBesideItAndInABox(t *testing.T) {
	f := sheetmodel.Field{Name: "row-01.bib", Kind: sheetmodel.Comb, Boxes: 3, Rect: sheetmodel.Rect{X: 20, Y: 20, W: 21, H: 9}}
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 5))
		w := writing{
			pen: hand.DrawWriter(camera.Levels()[camera.Ordinary].Pens(), rng), rng: rng,
			ink: hand.NewInk(f.Rect.Grow(6), inkPxPerMM), block: &block{},
		}
		stroke := func(x float64, y0, y1 sheetmodel.MM) {
			at := f.Rect.X + 7*sheetmodel.MM(x)
			w.pen.Line(w.ink, sheetmodel.SheetPoint{X: at, Y: y0}, sheetmodel.SheetPoint{X: at, Y: y1}, rng)
		}
		stroke(1.5, 22, 27)
		assert.Equal(t, none, w.hidden(f), "seed %d: in the middle of a box", seed)
		stroke(0, 21, 22.2)
		assert.Equal(t, none, w.hidden(f), "seed %d: a short one on a line", seed)
		stroke(2, 10, 21)
		assert.Equal(t, none, w.hidden(f), "seed %d: one on a line that stands above the comb", seed)
		stroke(1, 22, 27)
		assert.Equal(t, all, w.hidden(f), "seed %d: on a line", seed)
	}
}

// upright writes every digit as one upright line.
type upright struct{}

func (upright) Digit(int, *rand.Rand) (hand.Strokes, int) {
	return hand.Strokes{Lines: []hand.Line{{Points: []hand.Point{{X: 0.1, W: 0.08}, {X: 0.1, Y: 1, W: 0.08}}}}, Width: 0.2}, 0
}

// Expected value: our own logic; hands slant, so not every one is hidden.
func TestStroke_MostAreHiddenByTheirLine(t *testing.T) {
	f := sheetmodel.Field{Name: "row-01.bib", Kind: sheetmodel.Comb, Boxes: 3, Rect: sheetmodel.Rect{X: 20, Y: 20, W: 21, H: 9}}
	hidden := 0
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 6))
		w := writing{
			pen: hand.DrawWriter(camera.Levels()[camera.Ordinary].Pens(), rng), rng: rng, digits: upright{},
			ink: hand.NewInk(f.Rect.Grow(6), inkPxPerMM), block: &block{},
		}
		w.stroke(f)
		if w.hidden(f) == all {
			hidden++
		}
	}
	assert.Greater(t, hidden, 10)
}
