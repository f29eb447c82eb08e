package racefolder_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// A race that only took a card of another make has printed none: nothing can have changed since. Our own logic.
func TestDrifted_OnlyCardsOfAnotherMake_SaysNothing(t *testing.T) {
	foreign := &sheetmodel.Layout{Format: 1, Name: "slip", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{{Name: sheetmodel.Front, W: 148, H: 210}}}
	race := &sheetmodel.Race{}
	assert.Empty(t, racefolder.Drifted(race, []*sheetmodel.Layout{foreign}))
	assert.NotEmpty(t, racefolder.Drifted(race, []*sheetmodel.Layout{foreign, sheetmodel.GateCard()}))
}
