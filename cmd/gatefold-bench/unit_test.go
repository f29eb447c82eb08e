package main

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/cmd/internal/reading"
	"gatefold/scan/camera"
	"gatefold/sheetmodel"
)

// source: our own logic. A photo of more than 80 megapixels is unpacked at half its width (scan.MaxPixels): what was
// read lies where the shot has it all the same.
func TestInShot_PhotoUnpackedAtHalfItsWidth_LiesWhereTheShotHasIt(t *testing.T) {
	card, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{})
	require.NoError(t, err)
	side := card.Side(sheetmodel.Front)
	shot := camera.Levels()[camera.Ordinary].Draw(camera.Scene{W: side.W, H: side.H}, rand.New(rand.NewPCG(3, 1)))
	view := shot.View()
	for _, k := range []int{1, 2} {
		half := func(p sheetmodel.SheetPoint) sheetmodel.PhotoPoint {
			at := view.PhotoFromSheet(p)
			return sheetmodel.PhotoPoint{X: (at.X+0.5)/float64(k) - 0.5, Y: (at.Y+0.5)/float64(k) - 0.5}
		}
		got := reading.Photo{Width: view.Shot().W / k, Cards: []reading.Card{{Map: half}}}
		at := inShot(&got.Cards[0], got, view)
		require.True(t, near(at(sheetmodel.SheetPoint{X: side.W / 2, Y: side.H / 2}), view, side))
		assert.InDelta(t, 0, fieldError(side.Fields[0].Rect, at, view), 0.1)
		if k == 2 {
			assert.Greater(t, fieldError(side.Fields[0].Rect, half, view), 1.0, "the photo's own px are not the shot's")
		}
	}
}
