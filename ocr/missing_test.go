package ocr

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// On a page where many marks are too pale to be told, no racer is told as missing; elsewhere they are. Source: our own logic.
func TestDoubtMissing_ManyPaleMarks_NobodyIsToldAsMissing(t *testing.T) {
	for _, c := range []struct{ told, asked, doubted int }{{60, 50, 10}, {100, 10, 0}, {4, 6, 0}, {0, 40, 10}} {
		side := &sheetmodel.Side{}
		read := map[string]sheetmodel.Reading{}
		add := func(n int, state sheetmodel.State) {
			for range n {
				name := fmt.Sprintf("row-%02d.passed", len(read)+1)
				side.Fields = append(side.Fields, sheetmodel.Field{Name: name, Part: sheetmodel.PartPassed, Kind: sheetmodel.Tick})
				read[name] = sheetmodel.Reading{Field: name, State: state}
			}
		}
		add(c.told, sheetmodel.Clear)
		add(c.asked, sheetmodel.Doubtful)
		add(10, sheetmodel.Empty)
		doubtMissing(side, read)
		doubtful := 0
		for _, x := range read {
			if x.State == sheetmodel.Doubtful {
				doubtful++
			}
		}
		assert.Equal(t, c.asked+c.doubted, doubtful, "%+v", c)
	}
}
