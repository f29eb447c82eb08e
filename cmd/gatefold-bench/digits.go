package main

import (
	"context"
	"errors"
	"fmt"

	"gatefold/ocr/net"
	"gatefold/ocr/train/cells"
	"gatefold/ocr/weights"
	"gatefold/scan/camera/hand"
)

// digits reads MNIST's 10,000 test digits, each pasted into a clean box as it is, through the
// normalisation that cards go through, and counts the errors of both nets' mean.
func digits(ctx context.Context, s settings) (err error) {
	made, err := madeNow(ctx)
	if err != nil {
		return err
	}
	if err := logLook(ctx, s, "MNIST test digits", "nets-"+weights.Hash()[:12]); err != nil {
		return err
	}
	folder, err := hand.FindMNIST(ctx)
	if err != nil {
		return err
	}
	m, err := hand.ReadMNIST(folder)
	if err != nil {
		return err
	}
	nets, err := net.Open()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, nets.Close()) }()
	g := digitGroup{MadeWith: made, Of: len(m.Test)}
	for i := range m.Test {
		sample := cells.Original(&m.Test[i])
		a, b, err := nets.Classify(&sample.Crop)
		if err != nil {
			return fmt.Errorf("digit %d: %w", i, err)
		}
		// A digit taken for an empty box or for no digit is wrong, too.
		if best, _ := net.Mean(a, b).Best(); best != int(m.Test[i].Label) {
			g.MNISTErrors++
		}
	}
	fmt.Printf("MNIST test digits: %d of %d wrong\n", g.MNISTErrors, g.Of)
	return keep(s, "digit", g)
}
