package scan_test

import (
	"fmt"
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan"
	"gatefold/sheetmodel"
)

// dimmed is a card in less light: its paper 200 grey levels, its print 40.
func dimmed(img *image.Gray) *image.Gray {
	for i, g := range img.Pix {
		img.Pix[i] = uint8(40 + int(g)*160/255)
	}
	return img
}

// allOf returns rows and 1 mm round them.
func allOf(side *sheetmodel.Side, first, last int) sheetmodel.Rect {
	all := side.RowFields(first)[0].Rect
	for row := first; row <= last; row++ {
		for _, f := range side.RowFields(row) {
			all = all.Union(f.Rect)
		}
	}
	return all.Grow(1)
}

func TestPages_RowsCoveredOrInGlare_AreNamedAsSuch(t *testing.T) {
	race, _ := layoutsOf(t, "a5")
	forms := formsOf(t, race)
	side := race.Side(sheetmodel.Front)
	for _, c := range []struct {
		name        string
		grey        uint8
		first, last int
		kind        scan.FlawKind
	}{
		{"a finger over one row", 120, 3, 3, scan.FlawCovered},
		{"a pencil case over two", 90, 6, 7, scan.FlawCovered},
		{"a reflection over two", 255, 3, 4, scan.FlawGlare},
	} {
		img := dimmed(flatCard(t, race, sheetmodel.Front, 17))
		cover(img, allOf(side, c.first, c.last), c.grey)
		pages, err := pagesOf(t, img, forms)
		require.NoError(t, err, c.name)
		require.Len(t, pages, 1, c.name)
		q := pages[0].Quality
		require.NotEmpty(t, q.Flaws, c.name)
		flaw := q.Flaws[0]
		assert.Equal(t, c.kind, flaw.Kind, c.name)
		assert.NotEmpty(t, flaw.Remedy)
		assert.Equal(t, flaw.Detail+"; "+flaw.Remedy, flaw.String())
		for row := c.first; row <= c.last; row++ {
			assert.Contains(t, flaw.Detail, fmt.Sprint(row), c.name)
			for _, f := range side.RowFields(row) {
				assert.Contains(t, q.Hidden, f.Name, c.name)
			}
		}
		// What lies half a patch away may be doubtful too, no more.
		for _, name := range q.Hidden {
			row := side.Field(name).Row
			assert.True(t, row >= c.first-1 && row <= c.last+1, "%s: %s", c.name, name)
		}
	}
}

func TestPages_GoodPhoto_HasNoFlawsAndSmallErrors(t *testing.T) {
	race, _ := layoutsOf(t, "a5")
	for _, name := range []sheetmodel.SideName{sheetmodel.Front, sheetmodel.Back} {
		pages, err := pagesOf(t, dimmed(flatCard(t, race, name, 17)), formsOf(t, race))
		require.NoError(t, err)
		require.Len(t, pages, 1)
		q := pages[0].Quality
		assert.Empty(t, q.Flaws)
		assert.Len(t, q.ErrorMM, len(pages[0].Side.Fields))
		for field, e := range q.ErrorMM {
			assert.Positive(t, e, field)
			assert.Less(t, e, 0.3, "%s, mm; own logic: a flat picture is no worse than the median target", field)
		}
	}
}
