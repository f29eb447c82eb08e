package main

import (
	"bufio"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"

	"golang.org/x/image/draw"
	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"
)

// Sheets of pictures: 3 × 8 bibs, each in a tile with its number above it.
const (
	eyeCols, eyeRows  = 3, 8
	tileW, tileH      = 420, 200
	tileHead, tileGap = 20, 10
)

// drawEyeSheets writes eye-001.png and so on.
func drawEyeSheets(dir string, shown []eyeItem) error {
	per := eyeCols * eyeRows
	for at := 0; at < len(shown); at += per {
		sheet := image.NewGray(image.Rect(0, 0, eyeCols*tileW, eyeRows*tileH))
		drawTiles(sheet, shown[at:min(at+per, len(shown))])
		if err := writePNG(filepath.Join(dir, fmt.Sprintf("eye-%03d.png", at/per+1)), sheet); err != nil {
			return err
		}
	}
	return nil
}

// drawTiles draws numbered bibs on a sheet, left to right and top to bottom.
func drawTiles(sheet *image.Gray, items []eyeItem) {
	draw.Draw(sheet, sheet.Bounds(), image.White, image.Point{}, draw.Src)
	for k, it := range items {
		origin := image.Pt(k%eyeCols*tileW, k/eyeCols*tileH)
		d := font.Drawer{Dst: sheet, Src: image.NewUniform(color.Gray{}), Face: basicfont.Face7x13, Dot: fixed.P(origin.X+tileGap, origin.Y+tileHead-5)}
		d.DrawString(fmt.Sprintf("No. %d", it.No))
		room := image.Rect(origin.X+tileGap, origin.Y+tileHead, origin.X+tileW-tileGap, origin.Y+tileH-tileGap)
		b := it.crop.Bounds()
		zoom := math.Min(float64(room.Dx())/float64(b.Dx()), float64(room.Dy())/float64(b.Dy()))
		into := image.Rect(0, 0, int(zoom*float64(b.Dx())), int(zoom*float64(b.Dy()))).Add(room.Min)
		draw.CatmullRom.Scale(sheet, into, it.crop, b, draw.Src, nil)
	}
}

func writePNG(path string, img image.Image) (err error) {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	w := bufio.NewWriter(f)
	return errors.Join(png.Encode(w, img), w.Flush())
}
