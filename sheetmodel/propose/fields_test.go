package propose_test

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/propose"
)

// Expected values of this file: our own logic.

func TestSide_PictureOfAnotherShape_IsRefused(t *testing.T) {
	_, err := propose.Side(image.NewGray(image.Rect(0, 0, 1480, 1000)), 148, 210, nil)
	assert.ErrorContains(t, err, "not the shape of a card of 148 × 210 mm")
}

func TestSide_TooCoarse_IsRefused(t *testing.T) {
	_, err := propose.Side(image.NewGray(image.Rect(0, 0, 296, 420)), 148, 210, nil)
	assert.ErrorContains(t, err, "150 dpi")
}

func TestSide_WhitePaper_ProposesNothing(t *testing.T) {
	g := image.NewGray(image.Rect(0, 0, 1184, 1680))
	for i := range g.Pix {
		g.Pix[i] = 255
	}
	p, err := propose.Side(g, 148, 210, nil)
	require.NoError(t, err)
	assert.Empty(t, p.Fields)
}

func TestSide_NoWordIsRead_NoPartIsClaimed(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 0))
	side := form(rng)
	p, err := propose.Side(scanned(side, rng), side.W, side.H, nil)
	require.NoError(t, err)
	require.NotEmpty(t, p.Fields)
	names := map[string]bool{}
	for _, f := range p.Fields {
		assert.Equal(t, sheetmodel.PartUnnamed, f.Part)
		assert.False(t, names[f.Name], f.Name)
		names[f.Name] = true
	}
	l := &sheetmodel.Layout{Format: 1, Name: "draft", Version: 1, Style: sheetmodel.FaultOnly,
		Sides: []sheetmodel.Side{{Name: sheetmodel.Front, W: side.W, H: side.H, Fields: p.Fields}}}
	assert.Contains(t, sheetmodel.Lint(l), "no bib column: no row can name a racer")
}

// A photo of a bent card, or one from the side, must not become a draft with fields beside their boxes. Our own logic.
func TestSide_CrookedLines_AreRefused(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 0))
	side := form(rng)
	straight := scanned(side, rng)
	w, h := straight.Rect.Dx(), straight.Rect.Dy()
	for name, move := range map[string]func(x, y float64) (float64, float64){
		"bent":          func(x, y float64) (float64, float64) { return x, y + 24*math.Sin(math.Pi*x/float64(w)) },
		"from the side": func(x, y float64) (float64, float64) { return x + (x-float64(w)/2)*0.12*y/float64(h), y },
	} {
		g := image.NewGray(straight.Rect)
		for y := range h {
			for x := range w {
				u, v := move(float64(x), float64(y))
				g.Pix[y*g.Stride+x] = 230
				if p := image.Pt(int(u), int(v)); p.In(g.Rect) {
					g.Pix[y*g.Stride+x] = straight.GrayAt(p.X, p.Y).Y
				}
			}
		}
		_, err := propose.Side(g, side.W, side.H, nil)
		assert.ErrorContains(t, err, "isn't straight in the picture", name)
	}
}
