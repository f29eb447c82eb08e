package ocr

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// Bibs below a drawing whose layout gives them no numbers, or one twice, are numbered by where they stand; others keep theirs. Our own logic.
func TestNumberEntries_TwoWithOneNumber_AreNumberedByPlace(t *testing.T) {
	at := func(panel string, entry int, x, y sheetmodel.MM) sheetmodel.StripEntry {
		return sheetmodel.StripEntry{Panel: panel, Entry: entry, Bib: sheetmodel.Reading{Region: sheetmodel.Rect{X: x, Y: y, W: 24, H: 10}}}
	}
	strips := []sheetmodel.StripEntry{at("A", 0, 40, 150), at("A", 0, 10, 150), at("A", 0, 10, 130), at("B", 2, 70, 150), at("B", 5, 70, 130), at("C", 0, 100, 150)}
	numberEntries(strips)
	assert.Equal(t, []sheetmodel.StripEntry{
		at("A", 1, 10, 130), at("A", 2, 10, 150), at("A", 3, 40, 150), at("B", 2, 70, 150), at("B", 5, 70, 130), at("C", 0, 100, 150),
	}, strips)
}
