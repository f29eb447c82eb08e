package main

import (
	"compress/gzip"
	"context"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"

	"gatefold/ocr/crop"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

func readMNIST(folder string) (*hand.MNIST, error) {
	if folder == "" {
		var err error
		if folder, err = hand.FindMNIST(context.Background()); err != nil {
			return nil, err
		}
	}
	return hand.ReadMNIST(folder)
}

// photoCell is one cell of a photographed grid.
type photoCell struct {
	page  crop.Page
	box   sheetmodel.Rect
	value uint8
}

// A cell of photo-cells is a square of 48 px cut along its printed lines. Its size in mm is not known:
// it is taken for a box 9 mm wide and high, a common size of such grids filled by hand, decided before
// any of them was read.
const (
	photoSide  = 48
	photoBoxMM = 9.0
)

// readPhotoCells returns the hand-written digits of photo-cells under folder.
func readPhotoCells(folder string) ([]photoCell, error) {
	pix, err := hand.ReadGzip(filepath.Join(folder, "photo-cells", "cells-images-idx3-ubyte.gz"))
	if err != nil {
		return nil, err
	}
	f, err := os.Open(filepath.Join(folder, "photo-cells", "cells.csv.gz"))
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // only read
	z, err := gzip.NewReader(f)
	if err != nil {
		return nil, err
	}
	rows, err := csv.NewReader(z).ReadAll()
	if err != nil {
		return nil, err
	}
	const headBytes = 16
	var out []photoCell
	for _, row := range rows[1:] {
		if row[2] != "hand" {
			continue
		}
		i, err := strconv.Atoi(row[0])
		if err != nil {
			return nil, fmt.Errorf("photo-cells: index %q: %w", row[0], err)
		}
		value, err := strconv.Atoi(row[1])
		if err != nil {
			return nil, fmt.Errorf("photo-cells: value %q: %w", row[1], err)
		}
		out = append(out, photoCell{
			page: crop.Page{
				Pix:    pix[headBytes+i*photoSide*photoSide : headBytes+(i+1)*photoSide*photoSide],
				Stride: photoSide, W: photoSide, H: photoSide, PxPerMM: photoSide / photoBoxMM,
			},
			box:   sheetmodel.Rect{W: photoBoxMM, H: photoBoxMM},
			value: uint8(value),
		})
	}
	return out, nil
}
