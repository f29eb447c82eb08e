package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan/camera/fill"
	"gatefold/sheetmodel"
)

// A change of the shipped card that the study's replacements miss would have it measure the base again.
func TestVariants_DifferFromTheBase_AndFitTheirPart(t *testing.T) {
	t.Chdir("../..")
	base, err := variants[0].layout()
	require.NoError(t, err)
	require.Equal(t, sheetmodel.GateCard().Version, base.Version)
	for _, v := range variants {
		l, err := v.layout()
		require.NoError(t, err, v.Name)
		if v.Name != "base" && v.Name != "strip" && v.Name != "foot-line-kept" {
			assert.NotEqual(t, base.Hash(), l.Hash(), v.Name)
		}
		side := l.Side(v.side())
		p, err := newPart("rows", side, v.rect())
		require.NoError(t, err, v.Name)
		rows := map[int]bool{}
		for n := 1; n <= 10 && !v.back; n++ {
			row, ok := v.rowOf(n)
			if !ok {
				continue
			}
			assert.False(t, rows[row], "%s: two events in row %d", v.Name, row)
			rows[row] = true
			for _, part := range []sheetmodel.Part{sheetmodel.PartBib, sheetmodel.PartGate, sheetmodel.PartCode} {
				found := false
				for _, f := range p.whole.RowFields(row) {
					found = found || f.Part == part
				}
				assert.True(t, found, "%s: no %s in row %d of the part that is photographed", v.Name, part, row)
			}
		}
		if !v.back {
			assert.Len(t, rows, side.Rows(), v.Name)
		}
	}
}

// Expected values: our own logic.
func TestCompare_PairsEntriesWithTheBases(t *testing.T) {
	one := func(variant string, seed uint64, event int, text string, score float64, doubts ...sheetmodel.DoubtKind) studied {
		return studied{
			Variant: variant, Level: "hard", Seed: seed, Writer: int(seed), Event: event, Kind: "bib1", Truth: "7",
			Text: text, Score: score, Clear: len(doubts) == 0, Doubts: doubts,
		}
	}
	spoilt := one("dark", 2, 2, "7", 3)
	spoilt.Spoil = fill.Struck
	all := []studied{
		one("base", 1, 1, "7", 3), one("base", 1, 2, "1", 2.5), one("base", 2, 1, "7", 0.5, sheetmodel.DoubtLowCertainty), one("base", 2, 2, "7", 3),
		one("dark", 1, 1, "7", 3), one("dark", 1, 2, "1", 1, sheetmodel.DoubtLowCertainty), one("dark", 2, 1, "7", 4, sheetmodel.DoubtOutsideBox),
		spoilt, one("dark", 3, 1, "7", 3), // no entry of the base's
	}
	c := compare(all, variant{Name: "dark"}, "bib1", "hard")
	assert.Equal(t, 3, c.n)
	assert.Equal(t, [2]int{1, 2}, c.asked)
	assert.Equal(t, [2]int{1, 0}, c.clearWrong)
	assert.Equal(t, [2]int{1, 1}, c.wrong)
	assert.Equal(t, [2]int{0, 1}, c.outside)
	assert.InDelta(t, 1.0/3, c.diff.mean, 1e-9)
	// With one asked, the doubt of the ink comes before the lower score, and the wrong text is left.
	assert.Equal(t, 1, c.wrongAtSame)
	assert.Equal(t, [2]int{2, 2}, c.needed)
	assert.Zero(t, compare(all, variant{Name: "dark"}, "gate", "hard").n)
}
