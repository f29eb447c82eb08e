package net

import (
	"fmt"

	"gatefold/ocr/crop"
	"gatefold/ocr/weights"
)

// Marks is the mark net, ready to run. Not safe for concurrent use.
type Marks struct{ r reader }

// OpenMarks loads the embedded mark net. The caller closes it. The weights are checked against their hash.
func OpenMarks() (*Marks, error) {
	b, err := weights.MarksFile()
	if err != nil {
		return nil, err
	}
	r, err := newReader("marks.onnx", b, crop.MarkH, crop.MarkW)
	if err != nil {
		return nil, err
	}
	return &Marks{r: r}, nil
}

// Close gives OpenCV's memory back; the Marks can't be used afterwards.
func (m *Marks) Close() error { return m.r.close() }

// Look returns what the net claims for a mark in the box, 0 to 1. BenchmarkMarks has the time it takes.
func (m *Marks) Look(c *crop.Mark) (float32, error) {
	got, err := m.r.forward(c[:])
	if err != nil {
		return 0, fmt.Errorf("mark net: %w", err)
	}
	if len(got) != 2 {
		return 0, fmt.Errorf("mark net: %d values, want 2; the weights are not for this program", len(got))
	}
	return got[1], nil
}
