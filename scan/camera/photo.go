package camera

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"

	"gatefold/sheetmodel"
)

// Photo is a finished photo. Image is how it looks before JPEG, upright; JPEG is the file, turned as its
// EXIF orientation says. The truth is in View.
type Photo struct {
	Image *image.RGBA
	JPEG  []byte
	View  *View
}

// Take photographs sheet. orientation is the EXIF orientation that the file is stored with, 1 to 8; 0
// stores an upright file without EXIF.
//
// The sheet's picture must cover the whole side at 20 px/mm or so; 10 is enough below 5 px/mm.
// About 1 s on one core for 12 megapixels, less with more cores. A staged shot of several cards is an error:
// see TakeCards.
func (v *View) Take(sheet Sheet, orientation int) (*Photo, error) {
	s := &v.shot
	if s.Staging != nil {
		return v.TakeCards([]Pictures{{Seen: sheet}}, orientation)
	}
	const margin = 2 // mm of white around the sheet, so that blur reaches beyond its edge
	area := sheetmodel.Rect{W: s.SheetW, H: s.SheetH}.Grow(margin)
	sc := v.newScene(sheet, area)
	rect := image.Rect(0, 0, s.W, s.H)
	grey := s.develop(sc.render(rect, 3), rect, 3)
	img := image.NewRGBA(rect)
	bands(s.H, func(from, to int) {
		for i := from * s.W; i < to*s.W; i++ {
			img.Pix[4*i], img.Pix[4*i+1], img.Pix[4*i+2], img.Pix[4*i+3] = grey[3*i], grey[3*i+1], grey[3*i+2], 255
		}
	})
	var buf bytes.Buffer
	turned := stored(img, orientation)
	if err := jpeg.Encode(&buf, turned, &jpeg.Options{Quality: s.JPEGQuality}); err != nil {
		return nil, fmt.Errorf("photo of %d x %d px: %w", s.W, s.H, err)
	}
	return &Photo{Image: img, JPEG: withOrientation(buf.Bytes(), orientation), View: v}, nil
}
