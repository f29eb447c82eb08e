package net

import (
	"fmt"

	"gatefold/ocr/crop"
	"gatefold/ocr/ctc"
	"gatefold/ocr/weights"
)

// CellSymbols are the symbols of the cell net, each at its number; the first is "nothing new here". Small a and b
// stand behind gates; # is ink that is no sign: struck out, a scribble, a word.
const CellSymbols = "\x000123456789-/,?abABCDEFGHIJKLMNOPQRSTUVWXYZ#"

// CellJunk is the symbol for ink that is no sign.
const CellJunk = '#'

// CellPlaces is how many places the cell net looks at along a strip.
const CellPlaces = 80

// Cell is the cell net, ready to run. Not safe for concurrent use.
type Cell struct{ r reader }

// OpenCell loads the embedded cell net. The caller closes it. The weights are checked against their hash.
func OpenCell() (*Cell, error) {
	b, err := weights.CellFile()
	if err != nil {
		return nil, err
	}
	r, err := newReader("cell.onnx", b, crop.StripH, crop.StripW)
	if err != nil {
		return nil, err
	}
	return &Cell{r: r}, nil
}

// Close gives OpenCV's memory back; the Cell can't be used afterwards.
func (c *Cell) Close() error { return c.r.close() }

// Look returns what the net says along a strip. BenchmarkCell has the time it takes.
func (c *Cell) Look(s *crop.Strip) (*ctc.Line, error) {
	got, err := c.r.forward(s[:])
	if err != nil {
		return nil, fmt.Errorf("cell net: %w", err)
	}
	return ctc.New(got, len(CellSymbols), CellPlaces)
}
