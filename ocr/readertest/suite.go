// Package readertest is the suite that every Classifier must pass.
//
//	blank box, pixels --Classifier--> two Dists --> promises of the interface, checked
//
// Run it from the classifier's own test in a few lines. It checks promises, not accuracy.
package readertest

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr"
	"gatefold/sheetmodel"
)

const (
	pxPerMM = 8.0
	w, h    = 320, 240 // px of the test page: 40 × 30 mm
)

var box = sheetmodel.Rect{X: 10, Y: 8, W: 8, H: 10}

// Suite opens a classifier with open for each test and closes it.
func Suite(t *testing.T, open func(t *testing.T) ocr.Classifier) {
	with := func(name string, run func(t *testing.T, c ocr.Classifier)) {
		t.Run(name, func(t *testing.T) {
			c := open(t)
			defer func() { require.NoError(t, c.Close()) }()
			run(t, c)
		})
	}
	with("sums to one, in the order of the boxes", func(t *testing.T, c ocr.Classifier) {
		pix := page(1)
		stroke(pix, box, 3)
		other := sheetmodel.Rect{X: 20, Y: 8, W: 8, H: 10}
		boxes := []sheetmodel.Rect{box, other, box}
		a, b, err := c.Classify(pix, w, pxPerMM, boxes)
		require.NoError(t, err)
		require.Len(t, a, len(boxes))
		require.Len(t, b, len(boxes))
		for i := range boxes {
			for _, d := range []ocr.Dist{a[i], b[i]} {
				sum := 0.0
				for _, p := range d {
					assert.False(t, math.IsNaN(p) || p < 0 || p > 1)
					sum += p
				}
				assert.InDelta(t, 1, sum, 1e-6)
			}
		}
		assert.Equal(t, a[0], a[2], "the same box twice")
		assert.Equal(t, b[0], b[2], "the same box twice")
	})
	with("equal pixels, equal answers", func(t *testing.T, c ocr.Classifier) {
		pix := page(2)
		stroke(pix, box, 4)
		a1, b1, err := c.Classify(pix, w, pxPerMM, []sheetmodel.Rect{box})
		require.NoError(t, err)
		a2, b2, err := c.Classify(slices.Clone(pix), w, pxPerMM, []sheetmodel.Rect{box})
		require.NoError(t, err)
		assert.Equal(t, a1, a2)
		assert.Equal(t, b1, b2)
	})
	with("the page stays unchanged", func(t *testing.T, c ocr.Classifier) {
		pix := page(3)
		before := slices.Clone(pix)
		_, _, err := c.Classify(pix, w, pxPerMM, []sheetmodel.Rect{box})
		require.NoError(t, err)
		assert.Equal(t, before, pix)
	})
	with("paper is no digit", func(t *testing.T, c ocr.Classifier) {
		a, b, err := c.Classify(page(4), w, pxPerMM, []sheetmodel.Rect{box})
		require.NoError(t, err)
		assert.Equal(t, ocr.ClassEmpty, a[0].Best())
		assert.Equal(t, ocr.ClassEmpty, b[0].Best())
	})
	with("boxes at the page's edge", func(t *testing.T, c ocr.Classifier) {
		edges := []sheetmodel.Rect{{X: -2, Y: -2, W: 8, H: 10}, {X: 36, Y: 24, W: 8, H: 10}}
		_, _, err := c.Classify(page(5), w, pxPerMM, edges)
		require.NoError(t, err)
	})
	with("no boxes", func(t *testing.T, c ocr.Classifier) {
		a, b, err := c.Classify(page(6), w, pxPerMM, nil)
		require.NoError(t, err)
		assert.Empty(t, a)
		assert.Empty(t, b)
	})
	with("names its weights", func(t *testing.T, c ocr.Classifier) {
		assert.NotEmpty(t, c.Weights())
	})
}

// page is grey paper with a little grain.
func page(seed uint64) []byte {
	rng := rand.New(rand.NewPCG(seed, 7))
	pix := make([]byte, w*h)
	for i := range pix {
		pix[i] = byte(200 + 2*rng.NormFloat64())
	}
	return pix
}

// stroke draws an upright pencil stroke of the given length in mm into box.
func stroke(pix []byte, box sheetmodel.Rect, mm float64) {
	c := box.Center()
	for y := (float64(c.Y) - mm/2) * pxPerMM; y < (float64(c.Y)+mm/2)*pxPerMM; y++ {
		for x := float64(c.X)*pxPerMM - 2; x < float64(c.X)*pxPerMM+2; x++ {
			pix[int(y)*w+int(x)] = 110
		}
	}
}
