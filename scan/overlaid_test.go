package scan_test

import (
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan"
	"gatefold/sheetmodel"
)

// shade darkens a rectangle as a shadow does, softly within 6 mm of its edge: print stays in it.
func shade(img *image.Gray, r sheetmodel.Rect, share float64) {
	a, b := onFlat(sheetmodel.SheetPoint{X: r.X, Y: r.Y}), onFlat(sheetmodel.SheetPoint{X: r.X + r.W, Y: r.Y + r.H})
	for y := int(a.Y); y < int(b.Y); y++ {
		for x := int(a.X); x < int(b.X); x++ {
			edge := min(float64(x)-a.X, b.X-float64(x), float64(y)-a.Y, b.Y-float64(y)) / flatPxPerMM
			i := img.PixOffset(x, y)
			img.Pix[i] = uint8((1 - (1-share)*min(edge/6, 1)) * float64(img.Pix[i]))
		}
	}
}

// round covers a disc, as a fingertip or a hole does.
func round(img *image.Gray, c sheetmodel.SheetPoint, radius sheetmodel.MM, grey uint8) {
	at := onFlat(c)
	r := float64(radius) * flatPxPerMM
	for y := int(at.Y - r); y <= int(at.Y+r); y++ {
		for x := int(at.X - r); x <= int(at.X+r); x++ {
			if dx, dy := float64(x)-at.X, float64(y)-at.Y; dx*dx+dy*dy <= r*r {
				img.Pix[img.PixOffset(x, y)] = grey
			}
		}
	}
}

// TestPages_FingerBetweenThePrintLines_IsSeen: the middle of a panel or of a line for remarks has no print that a
// finger could hide, only ink.
func TestPages_FingerBetweenThePrintLines_IsSeen(t *testing.T) {
	race, _ := layoutsOf(t, "a5")
	forms := formsOf(t, race)
	for _, c := range []struct {
		side   sheetmodel.SideName
		field  string
		radius sheetmodel.MM
	}{
		{sheetmodel.Back, "panel-b.drawing", 6},
		{sheetmodel.Back, "panel-e.drawing", 6},
		{sheetmodel.Front, "remark-1.text", 4},
	} {
		f := race.Side(c.side).Field(c.field)
		require.NotNil(t, f, c.field)
		img := dimmed(flatCard(t, race, c.side, 17))
		round(img, f.Rect.Center(), c.radius, 90)
		pages, err := pagesOf(t, img, forms)
		require.NoError(t, err, c.field)
		require.Len(t, pages, 1)
		q := pages[0].Quality
		assert.Equal(t, []string{c.field}, q.Hidden, c.field)
		require.Len(t, q.Flaws, 1, c.field)
		assert.Equal(t, scan.FlawCovered, q.Flaws[0].Kind)
	}
}

// TestPages_ShadowOverRowsAndPanels_HidesNothing: print goes on through it.
func TestPages_ShadowOverRowsAndPanels_HidesNothing(t *testing.T) {
	race, _ := layoutsOf(t, "a5")
	forms := formsOf(t, race)
	for _, name := range []sheetmodel.SideName{sheetmodel.Front, sheetmodel.Back} {
		img := dimmed(flatCard(t, race, name, 17))
		side := race.Side(name)
		shade(img, sheetmodel.Rect{X: 0, Y: side.H / 3, W: side.W * 0.6, H: side.H / 2}, 0.55)
		pages, err := pagesOf(t, img, forms)
		require.NoError(t, err)
		require.Len(t, pages, 1)
		for _, f := range pages[0].Quality.Flaws {
			assert.NotEqual(t, scan.FlawCovered, f.Kind, "%s: %s", name, f.Detail)
		}
	}
}

// TestPages_FingerAtTheEdgeOfABox_LeavesItBe: 1 mm of a border hides no ink.
func TestPages_FingerAtTheEdgeOfABox_LeavesItBe(t *testing.T) {
	race, _ := layoutsOf(t, "a5")
	f := race.Side(sheetmodel.Front).Field("remark-1.text")
	img := dimmed(flatCard(t, race, sheetmodel.Front, 17))
	round(img, sheetmodel.SheetPoint{X: f.Rect.X + f.Rect.W + 4.3, Y: f.Rect.Center().Y}, 5, 90)
	pages, err := pagesOf(t, img, formsOf(t, race))
	require.NoError(t, err)
	require.Len(t, pages, 1)
	assert.NotContains(t, pages[0].Quality.Hidden, f.Name)
}
