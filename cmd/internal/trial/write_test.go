package trial

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// A card whose panels are P to R has no panel B: nobody writes that letter there. Source: our own logic.
func TestTextFor_PanelLetters_AreThoseOfTheLayout(t *testing.T) {
	l := &sheetmodel.Layout{Sides: []sheetmodel.Side{
		{Name: sheetmodel.Front, Fields: []sheetmodel.Field{{Name: "row-01.panel", Part: sheetmodel.PartPanel, Kind: sheetmodel.Cell, Grammar: sheetmodel.GrammarPanel, Row: 1}}},
		{Name: sheetmodel.Back, Fields: []sheetmodel.Field{{Panel: "P"}, {Panel: "P"}, {Panel: "Q"}, {Panel: "R"}}},
	}}
	rng := rand.New(rand.NewPCG(1, 1))
	seen := map[string]bool{}
	for range 100 {
		seen[textFor(l.Sides[0].Fields[0], Letters(l), rng)] = true
	}
	assert.Equal(t, map[string]bool{"P": true, "Q": true, "R": true}, seen)
	assert.Equal(t, "ABCD", Letters(&sheetmodel.Layout{}))
}
