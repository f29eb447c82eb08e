package main

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"

	"golang.org/x/image/draw"
	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"

	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// layoutsPicture shows all variants side by side: the same rows by the same hand, flat, before any camera.
func layoutsPicture(ctx context.Context, file string) error {
	all, err := calibrationHands(ctx)
	if err != nil {
		return err
	}
	s, err := newStudier(variants, all, nil)
	if err != nil {
		return err
	}
	if err := s.reader.Close(); err != nil {
		return err
	}
	const (
		seed, columns = 4, 4
		pxPerMM       = 4.0
		label, rim    = 14, 6
	)
	see := map[bool]sheetmodel.Rect{false: {X: 11, Y: 61, W: 104, H: 36}, true: {X: 33, Y: 88, W: 104, H: 36}}
	w, h := int(104*pxPerMM)+rim, int(36*pxPerMM)+label+rim
	rows := (len(s.variants) + columns - 1) / columns
	sheet := image.NewGray(image.Rect(0, 0, columns*w+rim, rows*h+rim))
	draw.Draw(sheet, sheet.Rect, image.NewUniform(color.Gray{Y: 225}), image.Point{}, draw.Src)
	pen := hand.DrawWriter(camera.Levels()[camera.Ordinary].Pens(), stream(seed, "pen", camera.Ordinary))
	for i, v := range s.variants {
		paper, _ := s.fill(v, seed, s.hands[seed], *pen, studyPlan(stream(seed, "plan")))
		r := see[v.back]
		from := image.Rect(int(r.X*inkPxPerMM), int(r.Y*inkPxPerMM), int((r.X+r.W)*inkPxPerMM), int((r.Y+r.H)*inkPxPerMM))
		x, y := rim+i%columns*w, rim+i/columns*h
		draw.CatmullRom.Scale(sheet, image.Rect(x, y+label, x+w-rim, y+h-rim), paper, from, draw.Src, nil)
		(&font.Drawer{Dst: sheet, Src: image.Black, Face: basicfont.Face7x13, Dot: fixed.P(x, y+label-3)}).DrawString(v.Name)
	}
	o, err := os.Create(file)
	if err != nil {
		return err
	}
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(o, sheet); err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	return o.Close()
}
