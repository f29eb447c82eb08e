package scan_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan"
	"gatefold/sheetmodel"
)

// mayBe returns the layouts a page says it may be of, by the start of their hashes.
func mayBe(p *scan.Page) []string {
	var all []string
	for _, l := range p.MayBe {
		all = append(all, l.HashStart())
	}
	return all
}

// TestPages_IdentityCoveredAndBacksAlike_SaysWhichLayoutsItMayBe: with another number of groups the front differs and
// the back doesn't, so nothing on the back tells whose it is.
func TestPages_IdentityCoveredAndBacksAlike_SaysWhichLayoutsItMayBe(t *testing.T) {
	race, _ := layoutsOf(t, "a5")
	other, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{Groups: []string{"U12 f", "U12 m"}, Courses: []string{"red", "blue"}})
	require.NoError(t, err)
	require.NotEqual(t, race.Hash(), other.Hash())
	forms := formsOf(t, race, other)
	for _, l := range []*sheetmodel.Layout{race, other} {
		img := flatCard(t, l, sheetmodel.Back, 17)
		pages, err := pagesOf(t, img, forms)
		require.NoError(t, err)
		require.Len(t, pages, 1)
		assert.Equal(t, l.Hash(), pages[0].Layout.Hash())
		assert.Empty(t, pages[0].MayBe, "its identity can be read")
		for _, r := range l.Side(sheetmodel.Back).Identity {
			cover(img, r.Grow(1), 255)
		}
		pages, err = pagesOf(t, img, forms)
		require.NoError(t, err)
		require.Len(t, pages, 1)
		assert.Nil(t, pages[0].Identity)
		assert.ElementsMatch(t, []string{race.HashStart(), other.HashStart()}, mayBe(pages[0]))
	}
}

// TestPages_IdentityCoveredAndFrontsDiffer_NamesOneLayout: ten rows of one form can't pass for those of another.
func TestPages_IdentityCoveredAndFrontsDiffer_NamesOneLayout(t *testing.T) {
	race, _ := layoutsOf(t, "a5")
	other, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{Groups: []string{"U12 f"}, Courses: []string{"red"}, SecondWriting: true})
	require.NoError(t, err)
	img := flatCard(t, race, sheetmodel.Front, 17)
	for _, r := range race.Side(sheetmodel.Front).Identity {
		cover(img, r.Grow(1), 255)
	}
	pages, err := pagesOf(t, img, formsOf(t, other, race))
	require.NoError(t, err)
	require.Len(t, pages, 1)
	assert.Nil(t, pages[0].Identity)
	assert.Equal(t, race.Hash(), pages[0].Layout.Hash())
	assert.Empty(t, pages[0].MayBe)
}
