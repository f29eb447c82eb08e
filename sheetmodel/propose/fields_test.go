package propose_test

import (
	"image"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/propose"
)

// Expected values of this file: our own logic.

func TestSide_PictureOfAnotherShape_IsRefused(t *testing.T) {
	_, err := propose.Side(image.NewGray(image.Rect(0, 0, 1480, 1000)), 148, 210)
	assert.ErrorContains(t, err, "not the shape of a card of 148 × 210 mm")
}

func TestSide_TooCoarse_IsRefused(t *testing.T) {
	_, err := propose.Side(image.NewGray(image.Rect(0, 0, 296, 420)), 148, 210)
	assert.ErrorContains(t, err, "150 dpi")
}

func TestSide_WhitePaper_ProposesNothing(t *testing.T) {
	g := image.NewGray(image.Rect(0, 0, 1184, 1680))
	for i := range g.Pix {
		g.Pix[i] = 255
	}
	p, err := propose.Side(g, 148, 210)
	require.NoError(t, err)
	assert.Empty(t, p.Fields)
}

func TestSide_NoWordIsRead_NoPartIsClaimed(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 0))
	side := form(rng)
	p, err := propose.Side(scanned(side, rng), side.W, side.H)
	require.NoError(t, err)
	require.NotEmpty(t, p.Fields)
	names := map[string]bool{}
	for _, f := range p.Fields {
		assert.Equal(t, propose.PartUnnamed, f.Part)
		assert.False(t, names[f.Name], f.Name)
		names[f.Name] = true
	}
	l := &sheetmodel.Layout{Format: 1, Name: "draft", Version: 1, Style: sheetmodel.FaultOnly,
		Sides: []sheetmodel.Side{{Name: sheetmodel.Front, W: side.W, H: side.H, Fields: p.Fields}}}
	assert.Contains(t, sheetmodel.Lint(l), "no bib column: no row can name a racer")
}
