package propose_test

import (
	"fmt"
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

// A title in white on a dark band has no place to write in it, whatever lines its letters make; a shaded column does.
// Our own logic.
func TestSide_DarkBand_IsNoPlaceToWrite(t *testing.T) {
	const pxPerMM = 8
	picture := image.NewGray(image.Rect(0, 0, 148*pxPerMM, 210*pxPerMM))
	rect := func(x, y, w, h float64, grey uint8) {
		for j := int(y * pxPerMM); j < int((y+h)*pxPerMM); j++ {
			for i := int(x * pxPerMM); i < int((x+w)*pxPerMM); i++ {
				picture.Pix[j*picture.Stride+i] = grey
			}
		}
	}
	rect(0, 0, 148, 210, 255)
	rect(10, 10, 128, 14, 40)
	for i := range 3 { // letters of a kind, and the gaps between them
		rect(20+30*float64(i), 12, 0.6, 10, 255)
		rect(20+30*float64(i), 12, 18, 0.6, 255)
	}
	for r := range 4 {
		for c := range 3 {
			x, y := 12+30*float64(c), 60+14*float64(r)
			rect(x, y, 30.3, 14.3, 0)
			rect(x+0.3, y+0.3, 29.7, 13.7, 225)
		}
	}
	p, err := propose.Side(picture, 148, 210, nil)
	require.NoError(t, err)
	assert.Len(t, p.Fields, 12)
	for _, f := range p.Fields {
		assert.Greater(t, f.Rect.Y, sheetmodel.MM(50))
	}
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

// A person's word about a column settles all of its rows, and what is wrong is named. Our own logic.
func TestSay_AColumn_ItsRowsFollow(t *testing.T) {
	var fields []sheetmodel.Field
	for row := 1; row <= 3; row++ {
		fields = append(fields, sheetmodel.Field{Name: fmt.Sprintf("row-%02d.column-1", row), Part: sheetmodel.PartUnnamed, Kind: sheetmodel.Comb, Boxes: 3, Row: row, Grammar: sheetmodel.GrammarCount})
	}
	fields = append(fields, sheetmodel.Field{Name: "header.field-1", Part: sheetmodel.PartUnnamed, Kind: sheetmodel.Cell, Grammar: sheetmodel.GrammarFree},
		sheetmodel.Field{Name: "row-01.column-2", Part: sheetmodel.PartUnnamed, Kind: sheetmodel.Cell, Row: 1, Grammar: sheetmodel.GrammarFree})
	p := &propose.Proposal{Fields: fields, Unsure: []string{"1 to 3: what is it for?", "4: what is it for?", "5: what is it for?"}}
	require.NoError(t, p.Say(1, 3, sheetmodel.PartBib))
	for row, f := range p.Fields[:3] {
		assert.Equal(t, fmt.Sprintf("row-%02d.bib", row+1), f.Name)
		assert.Equal(t, sheetmodel.PartBib, f.Part)
		assert.Equal(t, sheetmodel.GrammarBib, f.Grammar)
		assert.Equal(t, sheetmodel.Comb, f.Kind)
	}
	require.NoError(t, p.Say(4, 4, sheetmodel.PartJudge))
	assert.Equal(t, sheetmodel.Field{Name: "header.judge", Part: sheetmodel.PartJudge, Kind: sheetmodel.Text, Grammar: sheetmodel.GrammarFree}, p.Fields[3])
	assert.Equal(t, []string{"5: what is it for?"}, p.Unsure)
	require.ErrorContains(t, p.Say(5, 5, sheetmodel.PartBib), "row 1 has a bib already")
	require.ErrorContains(t, p.Say(5, 6, sheetmodel.PartGate), "there are fields 1 to 5")
	require.ErrorContains(t, p.Say(5, 5, "gates"), `part "gates": write one of`)
}
