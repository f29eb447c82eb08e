//go:build !cgo

package main

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/draw"
	_ "image/jpeg" // scans come as JPEG or PNG
	_ "image/png"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/propose"
)

// flatSides takes the picture for a flat scan of one side: a program without image support straightens none.
func flatSides(_ context.Context, name string, data []byte, _, _ sheetmodel.MM) ([]*image.Gray, error) {
	g, err := greyOf(name, data)
	return []*image.Gray{g}, err
}

// openLabels returns no reader: no word is read then.
func openLabels() (propose.Reader, func(), error) { return nil, func() {}, nil }

// largestScan is A3 at 600 dpi, in px.
const largestScan = 70_000_000

func greyOf(name string, data []byte) (*image.Gray, error) {
	c, _, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("%s: not a PNG or JPEG picture; save the page as one of them", name)
	}
	if c.Width*c.Height > largestScan {
		return nil, fmt.Errorf("%s: %d × %d px is too large; scan it with 200 dpi", name, c.Width, c.Height)
	}
	m, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("%s: the picture is damaged: %w; scan it again", name, err)
	}
	g := image.NewGray(image.Rect(0, 0, m.Bounds().Dx(), m.Bounds().Dy()))
	draw.Draw(g, g.Rect, m, m.Bounds().Min, draw.Src)
	return g, nil
}
