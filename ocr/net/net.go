package net

import (
	"errors"
	"fmt"
	"slices"

	"gocv.io/x/gocv"

	"gatefold/ocr/crop"
	"gatefold/ocr/weights"
)

// Classes of the nets beside the digits 0 to 9.
const (
	Empty   = 10 // nothing was written, whatever else darkens the box
	Other   = 11 // something was written that is no one digit
	Classes = 12
)

// Probs are one net's claims by class; they sum to 1.
type Probs [Classes]float32

// Best returns the likeliest class and the runner-up.
func (p Probs) Best() (first, second int) {
	first, second = 0, 1
	if p[1] > p[0] {
		first, second = 1, 0
	}
	for c := 2; c < Classes; c++ {
		switch {
		case p[c] > p[first]:
			first, second = c, first
		case p[c] > p[second]:
			second = c
		}
	}
	return first, second
}

// Mean is the plain mean of two nets' claims.
func Mean(a, b Probs) Probs {
	var m Probs
	for c := range m {
		m[c] = (a[c] + b[c]) / 2
	}
	return m
}

// Nets are both nets, ready to run. Not safe for concurrent use.
type Nets struct {
	a, b reader
}

// reader is one net with its input.
type reader struct {
	net   gocv.Net
	input gocv.Mat
	data  []float32 // the input's own memory
}

// Open loads the embedded nets. The caller closes them. The weights are checked against their hash.
func Open() (*Nets, error) {
	a, b, err := weights.Files()
	if err != nil {
		return nil, err
	}
	n := &Nets{}
	if n.a, err = newReader("a.onnx", a, crop.CellH, crop.CellW); err != nil {
		return nil, err
	}
	if n.b, err = newReader("b.onnx", b, crop.GlyphSide, crop.GlyphSide); err != nil {
		return nil, errors.Join(err, n.a.close())
	}
	return n, nil
}

func newReader(name string, onnx []byte, h, w int) (reader, error) {
	net, err := gocv.ReadNetFromONNXBytes(onnx)
	if err != nil {
		return reader{}, fmt.Errorf("weights %s: %w", name, err)
	}
	if net.Empty() {
		return reader{}, errors.Join(fmt.Errorf("weights %s: OpenCV reads no net from them; build from a clean checkout", name), net.Close())
	}
	r := reader{net: net, input: gocv.NewMatWithSizes([]int{1, 1, h, w}, gocv.MatTypeCV32F)}
	if r.data, err = r.input.DataPtrFloat32(); err != nil {
		return reader{}, errors.Join(fmt.Errorf("weights %s: %w", name, err), r.close())
	}
	return r, nil
}

// Close gives OpenCV's memory back; the Nets can't be used afterwards.
func (n *Nets) Close() error { return errors.Join(n.a.close(), n.b.close()) }

func (r *reader) close() error { return errors.Join(r.net.Close(), r.input.Close()) }

// Classify returns what net A claims of the cell and net B of the glyph.
//
// About 2 ms on one core.
func (n *Nets) Classify(c *crop.Crop) (a, b Probs, err error) {
	if a, err = n.a.run(c.Cell[:]); err != nil {
		return a, b, fmt.Errorf("net a: %w", err)
	}
	if b, err = n.b.run(c.Glyph[:]); err != nil {
		return a, b, fmt.Errorf("net b: %w", err)
	}
	return a, b, nil
}

// Box returns what net A claims of a cell alone. About 1.4 ms on one core.
func (n *Nets) Box(cell *[crop.CellW * crop.CellH]byte) (Probs, error) {
	p, err := n.a.run(cell[:])
	if err != nil {
		return p, fmt.Errorf("net a: %w", err)
	}
	return p, nil
}

// run is one forward pass of a digit net.
func (r *reader) run(view []byte) (Probs, error) {
	var p Probs
	got, err := r.forward(view)
	if err != nil {
		return p, err
	}
	if len(got) != Classes {
		return p, fmt.Errorf("%d values, want %d; the weights are not for this program", len(got), Classes)
	}
	copy(p[:], got)
	return p, nil
}

// forward is one forward pass of any net.
func (r *reader) forward(view []byte) ([]float32, error) {
	for i, v := range view {
		r.data[i] = float32(v) / 255
	}
	r.net.SetInput(r.input, "")
	out := r.net.Forward("")
	defer out.Close()
	got, err := out.DataPtrFloat32()
	return slices.Clone(got), err
}
