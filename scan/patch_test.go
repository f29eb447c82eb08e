package scan

import (
	"fmt"
	"image"
	"image/color"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// paperWith is a blank form of 40 mm each way: a line across or down, so many px wide with its edge at from px, and grain.
func paperWith(from, width, dark, grain float64, down bool, first, last int) *face {
	const size = 200 // px, 5 a mm
	rng := rand.New(rand.NewPCG(1, 2))
	img := image.NewGray(image.Rect(0, 0, size, size))
	for y := range size {
		for x := range size {
			along, at := x, float64(y)
			if down {
				along, at = y, float64(x)
			}
			ink := 0.0
			if along >= first && along < last {
				ink = dark * max(0, min(at+1, from+width)-max(at, from))
			}
			img.SetGray(x, y, color.Gray{Y: uint8(max(0, min(255, 255*(1-ink)+grain*255*rng.NormFloat64())))})
		}
	}
	return &face{side: &sheetmodel.Side{W: 40, H: 40}, blank: newBlank(img, nil)}
}

// cutOn counts a form's patches.
func cutOn(t *testing.T, f *face) int {
	t.Helper()
	n := len(choosePatches(f))
	require.Equal(t, n, countPatches(f))
	return n
}

// A line holds the paper across itself wherever it falls between px of the blank form, be it thin or grey: five places along
// it, in a net of 8 mm. Source of the expectation: geometry; lines of 0.2 mm are what our own card has.
func TestChoosePatches_ThinOrGreyLineBetweenPx_IsCutAllAlong(t *testing.T) {
	for _, o := range []struct{ width, dark float64 }{{1, 1}, {1.25, 0.8}, {1, 0.5}, {0.5, 1}, {2, 0.3}} {
		for _, from := range []float64{100, 100.25, 100.5, 100.75} {
			for _, down := range []bool{false, true} {
				t.Run(fmt.Sprintf("%g px, %g dark, at %g, down %v", o.width, o.dark, from, down), func(t *testing.T) {
					assert.Equal(t, 5, cutOn(t, paperWith(from, o.width, o.dark, 0.01, down, 0, 200)))
				})
			}
		}
	}
}

// Grain of a photocopy's picture goes on nowhere, and a dash holds little. On a form with marks all is as it was made for.
// Source of the expectation: our own logic.
func TestChoosePatches_GrainOrDashOrCardWithMarks_IsNotCut(t *testing.T) {
	for _, grain := range []float64{0.05, 0.1, 0.2} {
		assert.Zero(t, cutOn(t, paperWith(0, 0, 0, grain, false, 0, 0)), "grain of %g", grain)
	}
	assert.Zero(t, cutOn(t, paperWith(100.5, 1, 0.5, 0, false, 90, 110)), "4 mm of a grey line")
	marked := paperWith(100.5, 1, 0.5, 0, false, 0, 200)
	marked.marks = map[int]sheetmodel.Rect{1: {W: 6, H: 6}}
	assert.Zero(t, cutOn(t, marked))
}
