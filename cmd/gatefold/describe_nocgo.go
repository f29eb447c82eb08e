//go:build !cgo

package main

import (
	"context"
	"image"

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
