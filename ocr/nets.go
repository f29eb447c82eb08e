package ocr

import (
	"fmt"

	"gatefold/ocr/crop"
	"gatefold/ocr/net"
	"gatefold/ocr/weights"
	"gatefold/sheetmodel"
)

// boxNets are the embedded nets as a Classifier.
type boxNets struct{ nets *net.Nets }

func openNets() (Classifier, error) {
	n, err := net.Open()
	if err != nil {
		return nil, err
	}
	return &boxNets{nets: n}, nil
}

// Classify cuts each box out and shows it to both nets.
func (n *boxNets) Classify(pix []byte, w int, pxPerMM float64, boxes []sheetmodel.Rect) (a, b []Dist, err error) {
	p := crop.Page{Pix: pix, Stride: w, W: w, H: len(pix) / w, PxPerMM: pxPerMM}
	a, b = make([]Dist, len(boxes)), make([]Dist, len(boxes))
	for i, box := range boxes {
		c := crop.Take(p, box)
		pa, pb, err := n.nets.Classify(&c)
		if err != nil {
			return nil, nil, fmt.Errorf("box at %.1f, %.1f mm: %w", box.X, box.Y, err)
		}
		a[i], b[i] = distOf(pa), distOf(pb)
	}
	return a, b, nil
}

// distOf widens a net's claims to sum to 1 in double precision.
func distOf(p net.Probs) Dist {
	var d Dist
	sum := 0.0
	for c, v := range p {
		d[c] = float64(v)
		sum += d[c]
	}
	for c := range d {
		d[c] /= sum
	}
	return d
}

// Weights names the embedded nets.
func (n *boxNets) Weights() string { return weights.Hash() }

// Close frees both nets.
func (n *boxNets) Close() error { return n.nets.Close() }
