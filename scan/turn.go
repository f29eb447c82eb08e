package scan

import (
	"bytes"

	"github.com/bep/imagemeta"
	"gocv.io/x/gocv"
)

// orientation returns the EXIF orientation of a file, 1 to 8; 1 where there is none that can be read.
func orientation(file []byte, format string) int {
	kind := imagemeta.JPEG
	if format == "png" {
		kind = imagemeta.PNG
	}
	found := 1
	// A damaged EXIF block is common and no reason to refuse a photo: without it the card is found as
	// it lies, and the marks tell which way up.
	_, _ = imagemeta.Decode(imagemeta.Options{
		R: bytes.NewReader(file), ImageFormat: kind, Sources: imagemeta.EXIF,
		ShouldHandleTag: func(tag imagemeta.TagInfo) bool { return tag.Tag == "Orientation" },
		HandleTag: func(tag imagemeta.TagInfo) error {
			if v, ok := tag.Value.(uint16); ok && v >= 1 && v <= 8 {
				found = int(v)
			}
			return imagemeta.ErrStopWalking
		},
	})
	return found
}

// Turn applies an EXIF or TIFF orientation, 1 to 8; others leave the picture as it is. It takes over m, which must not be used or closed afterwards.
//
// Source: CIPA DC-008 (Exif 2.32), tag 0x0112: where row 0 and column 0 of the file lie in the picture.
func Turn(m gocv.Mat, orientation int) gocv.Mat {
	if orientation <= 1 || orientation > 8 {
		return m
	}
	upright := gocv.NewMat()
	switch orientation {
	case 2:
		gocv.Flip(m, &upright, 1)
	case 3:
		gocv.Rotate(m, &upright, gocv.Rotate180Clockwise)
	case 4:
		gocv.Flip(m, &upright, 0)
	case 5:
		gocv.Transpose(m, &upright)
	case 6:
		gocv.Rotate(m, &upright, gocv.Rotate90Clockwise)
	case 7:
		gocv.Transpose(m, &upright)
		gocv.Rotate(upright, &upright, gocv.Rotate180Clockwise)
	case 8:
		gocv.Rotate(m, &upright, gocv.Rotate90CounterClockwise)
	}
	_ = m.Close()
	return upright
}
