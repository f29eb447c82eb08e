package intake_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// fileW and fileH are the size of the picture in the files of these tests.
const fileW, fileH = 96, 64

// gradient is a picture whose corners all differ: darker to the left, and to the top.
func gradient(w, h int) *image.Gray {
	img := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.SetGray(x, y, color.Gray{Y: uint8(150*x/w + 100*y/h)})
		}
	}
	return img
}

// upright is where a viewer must show pixel x, y of an upright w × h picture in one that is stored turned:
// it returns the stored picture whose orientation tag, with the given value, makes it img again.
//
// Source: CIPA DC-008 (Exif 2.32) and TIFF 6.0, tag 274: where row 0 and column 0 of the file are shown.
func stored(img *image.Gray, orientation int) *image.Gray {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	sw, sh := w, h
	if orientation >= 5 {
		sw, sh = h, w
	}
	out := image.NewGray(image.Rect(0, 0, sw, sh))
	for row := range sh {
		for column := range sw {
			x, y := column, row // 1: row 0 is the top, column 0 the left side
			switch orientation {
			case 2: // top, right
				x = w - 1 - column
			case 3: // bottom, right
				x, y = w-1-column, h-1-row
			case 4: // bottom, left
				y = h - 1 - row
			case 5: // left, top
				x, y = row, column
			case 6: // right, top
				x, y = w-1-row, column
			case 7: // right, bottom
				x, y = w-1-row, h-1-column
			case 8: // left, bottom
				x, y = row, h-1-column
			}
			out.SetGray(column, row, img.GrayAt(x, y))
		}
	}
	return out
}

func jpegOf(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: 98}))
	return b.Bytes()
}

func pngOf(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	return b.Bytes()
}

// exifJPEG puts an Exif segment with an orientation behind a JPEG's first marker. Source: CIPA DC-008, 4.5 to 4.6.
func exifJPEG(file []byte, orientation int) []byte {
	body := append([]byte("Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00"), byte(orientation), 0, 0, 0, 0, 0, 0)
	out := append([]byte{}, file[:2]...)
	out = append(out, 0xFF, 0xE1, byte((len(body)+2)>>8), byte(len(body)+2))
	return append(append(out, body...), file[2:]...)
}

// pngDeclaring is a PNG whose header declares w × h pixels and which holds hardly any.
func pngDeclaring(t testing.TB, w, h int) []byte {
	file := pngOf(t, gradient(16, 16))
	binary.BigEndian.PutUint32(file[16:], uint32(w))
	binary.BigEndian.PutUint32(file[20:], uint32(h))
	// The header's checksum must fit, or the size is never looked at: ISO/IEC 15948, 5.3.
	binary.BigEndian.PutUint32(file[29:], crc32.ChecksumIEEE(file[12:29]))
	return file
}

// jpegDeclaring is a JPEG whose frame declares w × h pixels. Source: ISO/IEC 10918-1, B.2.2.
func jpegDeclaring(t testing.TB, w, h int) []byte {
	file := jpegOf(t, gradient(64, 64))
	at := bytes.Index(file, []byte{0xFF, 0xC0})
	require.Positive(t, at)
	binary.BigEndian.PutUint16(file[at+5:], uint16(h))
	binary.BigEndian.PutUint16(file[at+7:], uint16(w))
	return file
}

// tiffOf is an uncompressed grey TIFF with one page for each picture, turned as told. Source: TIFF 6.0,
// section 4, baseline greyscale images.
func tiffOf(order binary.AppendByteOrder, orientation int, pages ...*image.Gray) []byte {
	out := []byte("II*\x00")
	if order.String() == "BigEndian" {
		out = []byte("MM\x00*")
	}
	out = append(out, 0, 0, 0, 0)
	link := 4 // where the offset of the next directory goes
	for _, img := range pages {
		pixels := len(out)
		for y := range img.Rect.Dy() {
			out = append(out, img.Pix[y*img.Stride:y*img.Stride+img.Rect.Dx()]...)
		}
		if len(out)%2 == 1 {
			out = append(out, 0)
		}
		put32(out[link:], order, len(out))
		entries := [][3]int{ // tag, type, value
			{256, 4, img.Rect.Dx()}, {257, 4, img.Rect.Dy()}, {258, 3, 8}, {259, 3, 1}, {262, 3, 1}, {273, 4, pixels},
			{274, 3, orientation}, {277, 3, 1}, {278, 4, img.Rect.Dy()}, {279, 4, img.Rect.Dx() * img.Rect.Dy()},
		}
		out = order.AppendUint16(out, uint16(len(entries)))
		for _, e := range entries {
			out = order.AppendUint16(order.AppendUint16(out, uint16(e[0])), uint16(e[1]))
			out = order.AppendUint32(out, 1)
			if e[1] == 3 {
				out = order.AppendUint16(order.AppendUint16(out, uint16(e[2])), 0)
			} else {
				out = order.AppendUint32(out, uint32(e[2]))
			}
		}
		link = len(out)
		out = append(out, 0, 0, 0, 0)
	}
	return out
}

func put32(b []byte, order binary.AppendByteOrder, v int) {
	copy(b, order.AppendUint32(nil, uint32(v)))
}

// pdfOf is a PDF with one page for each JPEG, w × h pixels at dpi, filling a page that is turned by so many
// degrees, as office scanners write it. Source: ISO 32000-1, 7.5, 7.7.3.3 and 8.9.5.
func pdfOf(jpegs [][]byte, w, h int, dpi float64, turned int) []byte {
	var out bytes.Buffer
	var at []int
	object := func(format string, args ...any) {
		at = append(at, out.Len())
		fmt.Fprintf(&out, "%d 0 obj\n"+format+"\nendobj\n", append([]any{len(at)}, args...)...)
	}
	out.WriteString("%PDF-1.4\n")
	object("<< /Type /Catalog /Pages 2 0 R >>")
	kids := ""
	for i := range jpegs {
		kids += fmt.Sprintf("%d 0 R ", 3+3*i)
	}
	object("<< /Type /Pages /Kids [ %s] /Count %d >>", kids, len(jpegs))
	pw, ph := float64(w)*72/dpi, float64(h)*72/dpi
	for i, file := range jpegs {
		object("<< /Type /Page /Parent 2 0 R /MediaBox [0 0 %.4f %.4f] /Rotate %d /Contents %d 0 R /Resources << /XObject << /I %d 0 R >> >> >>",
			pw, ph, turned, 4+3*i, 5+3*i)
		draw := fmt.Sprintf("q %.4f 0 0 %.4f 0 0 cm /I Do Q", pw, ph)
		object("<< /Length %d >>\nstream\n%s\nendstream", len(draw), draw)
		object("<< /Type /XObject /Subtype /Image /Width %d /Height %d /ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /DCTDecode /Length %d >>\nstream\n%s\nendstream",
			w, h, len(file), file)
	}
	start := out.Len()
	fmt.Fprintf(&out, "xref\n0 %d\n0000000000 65535 f \n", len(at)+1)
	for _, offset := range at {
		fmt.Fprintf(&out, "%010d 00000 n \n", offset)
	}
	fmt.Fprintf(&out, "trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n", len(at)+1, start)
	return out.Bytes()
}

// noisy is a picture with grain, as a photo's: no kind packs it away.
func noisy(w, h int) *image.Gray {
	r := rand.New(rand.NewPCG(uint64(w), uint64(h)))
	img := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		row := img.Pix[y*img.Stride:][:w]
		for x := range row {
			row[x] = uint8(90 + 60*((x/97+y/53)%2) + r.IntN(9))
		}
	}
	return img
}

// blackPNG is a whole PNG of w × h black pixels in a thousandth of their bytes. Source: ISO/IEC 15948, 11.2.
func blackPNG(t testing.TB, w, h int) []byte {
	t.Helper()
	out := []byte("\x89PNG\r\n\x1A\n")
	chunk := func(kind string, body []byte) {
		out = append(binary.BigEndian.AppendUint32(out, uint32(len(body))), kind...)
		out = append(out, body...)
		out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[len(out)-len(body)-4:]))
	}
	chunk("IHDR", append(binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, uint32(w)), uint32(h)), 8, 0, 0, 0, 0))
	chunk("IDAT", zeros(t, (w+1)*h))
	chunk("IEND", nil)
	return out
}

// coloured is a picture in three colours, as phones and scanners pack it even where it is grey.
func coloured(img *image.Gray) *image.YCbCr {
	out := image.NewYCbCr(img.Rect, image.YCbCrSubsampleRatio420)
	for y := range img.Rect.Dy() {
		copy(out.Y[y*out.YStride:], img.Pix[y*img.Stride:][:img.Rect.Dx()])
	}
	for i := range out.Cb {
		out.Cb[i], out.Cr[i] = uint8(120+i%9), uint8(124+i%7)
	}
	return out
}
