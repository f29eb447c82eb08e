package ocr

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// On a page where many marks are too pale to be told, no racer is told as missing; elsewhere they are. Source: our own logic.
func TestDoubtMissing_ManyPaleMarks_NobodyIsToldAsMissing(t *testing.T) {
	for _, c := range []struct{ told, pale, other, doubted int }{{60, 50, 0, 10}, {150, 34, 0, 10}, {200, 15, 0, 0}, {4, 6, 0, 0}, {0, 40, 0, 10}, {100, 0, 40, 0}} {
		side := &sheetmodel.Side{}
		read := map[string]sheetmodel.Reading{}
		add := func(n int, state sheetmodel.State, why ...sheetmodel.Doubt) {
			for range n {
				name := fmt.Sprintf("row-%02d.passed", len(read)+1)
				side.Fields = append(side.Fields, sheetmodel.Field{Name: name, Part: sheetmodel.PartPassed, Kind: sheetmodel.Tick})
				read[name] = sheetmodel.Reading{Field: name, State: state, Doubts: why}
			}
		}
		add(c.told, sheetmodel.Clear)
		add(c.pale, sheetmodel.Doubtful, sheetmodel.Doubt{Kind: sheetmodel.DoubtFaintInk})
		add(c.other, sheetmodel.Doubtful, sheetmodel.Doubt{Kind: sheetmodel.DoubtTwoMarks})
		add(10, sheetmodel.Empty)
		doubtMissing(side, read)
		doubtful := 0
		for _, x := range read {
			if x.State == sheetmodel.Doubtful {
				doubtful++
			}
		}
		assert.Equal(t, c.pale+c.other+c.doubted, doubtful, "%+v", c)
	}
}
