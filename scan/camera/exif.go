package camera

import (
	"encoding/binary"
	"image"
)

// stored returns img as the file holds it so that turning it by the EXIF orientation gives img back.
//
// Source: Exif 2.32, tag 274: 1 upright, 2 mirrored, 3 turned by 180°, 4 mirrored top to bottom,
// 5 transposed, 6 to be turned 90° clockwise, 7 transverse, 8 to be turned 90° counter-clockwise.
func stored(img *image.RGBA, orientation int) *image.RGBA {
	if orientation < 2 || orientation > 8 {
		return img
	}
	w, h := img.Rect.Dx(), img.Rect.Dy()
	sw, sh := w, h
	if orientation >= 5 {
		sw, sh = h, w
	}
	out := image.NewRGBA(image.Rect(0, 0, sw, sh))
	bands(sh, func(from, to int) {
		for y := from; y < to; y++ {
			for x := range sw {
				ux, uy := upright(x, y, w, h, orientation)
				copy(out.Pix[4*(y*sw+x):4*(y*sw+x)+4], img.Pix[4*(uy*w+ux):4*(uy*w+ux)+4])
			}
		}
	})
	return out
}

// upright returns where pixel (x, y) of the file is seen in the upright picture of w x h px.
func upright(x, y, w, h, orientation int) (ux, uy int) {
	switch orientation {
	case 2:
		return w - 1 - x, y
	case 3:
		return w - 1 - x, h - 1 - y
	case 4:
		return x, h - 1 - y
	case 5:
		return y, x
	case 6:
		return w - 1 - y, x
	case 7:
		return w - 1 - y, h - 1 - x
	case 8:
		return y, h - 1 - x
	}
	return x, y
}

// withOrientation puts an APP1 segment with the orientation tag behind the JPEG's first marker; 0 adds
// nothing.
func withOrientation(file []byte, orientation int) []byte {
	if orientation < 1 || orientation > 8 {
		return file
	}
	be := binary.BigEndian
	body := []byte("Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08")
	body = be.AppendUint16(body, 1)      // one entry
	body = be.AppendUint16(body, 0x0112) // orientation
	body = be.AppendUint16(body, 3)      // SHORT
	body = be.AppendUint32(body, 1)
	body = be.AppendUint16(body, uint16(orientation))
	body = be.AppendUint16(body, 0)
	body = be.AppendUint32(body, 0) // no further directory
	out := append([]byte{}, file[:2]...)
	out = append(out, 0xff, 0xe1)
	out = be.AppendUint16(out, uint16(len(body)+2))
	out = append(out, body...)
	return append(out, file[2:]...)
}
