//go:build cgo

package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"slices"

	"gocv.io/x/gocv"

	"gatefold/ocr/label"
	"gatefold/scan"
	"gatefold/scan/byprint"
	unpack "gatefold/scan/intake"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/propose"
)

// describePxPerMM is what a photo of a blank card is straightened to: 200 dpi.
const describePxPerMM = 8.0

// flatSides returns the sides that a file shows, each upright and cut to the card: one of a scan or photo, those of the
// first two pages of a PDF or TIFF.
func flatSides(ctx context.Context, name string, data []byte, w, h sheetmodel.MM) ([]*image.Gray, error) {
	d, err := unpack.Open(unpack.Options{})
	if err != nil {
		return nil, err
	}
	defer d.Close() //nolint:errcheck // ends a process that has done its work
	var sides []*image.Gray
	for picture, err := range d.Pictures(ctx, name, data) {
		var file *scan.FileError
		switch {
		case errors.As(err, &file):
			return nil, fmt.Errorf("%s: %s; %s", name, file.Detail, file.Remedy)
		case err != nil:
			return nil, err
		}
		if len(sides) == 2 {
			_ = picture.Grey.Close()
			return nil, fmt.Errorf("%s: has %d pages, a card has two sides; save the card's own pages by themselves", name, picture.Pages)
		}
		side, err := flatSide(picture.Grey, w, h, bytes.HasPrefix(data, []byte("%PDF-")))
		_ = picture.Grey.Close()
		if err != nil {
			if picture.Pages > 1 {
				return nil, fmt.Errorf("%s, page %d: %w", name, picture.Page, err)
			}
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		sides = append(sides, side)
	}
	return sides, nil
}

// flatSide returns one side; page: it is one of a document, not a picture.
func flatSide(grey gocv.Mat, w, h sheetmodel.MM, page bool) (*image.Gray, error) {
	if byprint.FillsIt(grey, w, h) || page && byprint.FillsPage(grey, w, h) {
		return grayOf(grey)
	}
	corners, err := byprint.Outline(grey, w, h)
	if err != nil {
		if byprint.PaperToTheEdge(grey) {
			return nil, fmt.Errorf("%d × %d px is not the shape of a card of %v × %v mm; give the card's size as it is held (describe: --size; a layout: w and h of its side), or cut the picture to the card's edges",
				grey.Cols(), grey.Rows(), w, h)
		}
		if !page && byprint.HasShape(grey, w, h) {
			return nil, fmt.Errorf("%w; or is it cut to the card already, and the card is printed dark along its edge? Then give it as PDF", err)
		}
		return nil, err
	}
	straight, err := byprint.Flatten(grey, &corners, w, h, describePxPerMM)
	if err != nil {
		return nil, err
	}
	defer straight.Close()
	return grayOf(straight)
}

func grayOf(m gocv.Mat) (*image.Gray, error) {
	pix, err := m.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	return &image.Gray{Pix: slices.Clone(pix), Stride: m.Cols(), Rect: image.Rect(0, 0, m.Cols(), m.Rows())}, nil
}

// openLabels opens what reads printed words; close is to be called after.
func openLabels() (propose.Reader, func(), error) {
	r, err := label.Open()
	if err != nil {
		return nil, nil, err
	}
	return r, func() { _ = r.Close() }, nil
}
