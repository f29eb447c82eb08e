package intake_test

import (
	"bytes"
	"encoding/binary"
	"image"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// matOf is a picture as OpenCV holds it; the caller closes it.
func matOf(t testing.TB, img *image.Gray) gocv.Mat {
	t.Helper()
	m, err := gocv.NewMatFromBytes(img.Rect.Dy(), img.Rect.Dx(), gocv.MatTypeCV8U, img.Pix)
	require.NoError(t, err)
	return m
}

// packedBy is a picture in OpenCV's packing, with its parameters: pairs of a key and a value.
func packedBy(t testing.TB, ending gocv.FileExt, m gocv.Mat, params ...int) []byte {
	t.Helper()
	if len(params) == 0 { // its call wants some
		params = []int{gocv.IMWritePngCompression, 1}
	}
	buf, err := gocv.IMEncodeWithParams(ending, m, params)
	require.NoError(t, err)
	defer buf.Close()
	return bytes.Clone(buf.GetBytes())
}

// progressive is a JPEG in passes, as messengers send it.
func progressive(t testing.TB, img *image.Gray) []byte {
	m := matOf(t, img)
	defer m.Close()
	file := packedBy(t, gocv.JPEGFileExt, m, gocv.IMWriteJpegQuality, 98, gocv.IMWriteJpegProgressive, 1)
	require.Positive(t, bytes.Index(file, []byte{0xFF, 0xC2}), "in passes")
	return file
}

// withSegment puts a segment of the application kind APPn behind a JPEG's first marker.
func withSegment(file []byte, n int, body []byte) []byte {
	out := append([]byte{}, file[:2]...)
	out = append(out, 0xFF, byte(0xE0+n), byte((len(body)+2)>>8), byte(len(body)+2))
	return append(append(out, body...), file[2:]...)
}

// exifOf is an Exif segment's body: a mark of byte order, and directories, each with its entries and the place
// of the next. Source: CIPA DC-008, 4.5 and 4.6; TIFF 6.0, section 2.
func exifOf(mark string, directories ...[]byte) []byte {
	body := append([]byte("Exif\x00\x00"+mark), 0, 42, 0, 0, 0, 8)
	for _, d := range directories {
		body = append(body, d...)
	}
	return body
}

// directory is one of a TIFF in big-endian order; each entry is tag, type, count and value, the latter on the
// left for SHORT.
func directory(next uint32, entries ...[4]uint32) []byte {
	out := binary.BigEndian.AppendUint16(nil, uint16(len(entries)))
	for _, e := range entries {
		out = binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint16(out, uint16(e[0])), uint16(e[1]))
		value := e[3]
		if e[1] == 3 {
			value <<= 16
		}
		out = binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(out, e[2]), value)
	}
	return binary.BigEndian.AppendUint32(out, next)
}

// withThumbnail is a JPEG whose Exif holds a small copy that claims to stand otherwise.
func withThumbnail(t testing.TB, file []byte, orientation uint32) []byte {
	small := jpegOf(t, gradient(16, 16))
	const second = 8 + 2 + 12 + 4
	const at = second + 2 + 3*12 + 4
	body := exifOf("MM", directory(second, [4]uint32{0x112, 3, 1, orientation}),
		directory(0, [4]uint32{0x112, 3, 1, 3}, [4]uint32{0x201, 4, 1, at}, [4]uint32{0x202, 4, 1, uint32(len(small))}), small)
	return withSegment(file, 1, body)
}

// cmykJPEG has four colours for each pixel, 16 × 16 blocks of middle grey. Source: ISO/IEC 10918-1, B.2.2, B.2.3.
func cmykJPEG(t testing.TB) []byte {
	file := uniformJPEG(t, 128, 128)
	frame, pass := bytes.Index(file, []byte{0xFF, 0xC0}), bytes.Index(file, []byte{0xFF, 0xDA})
	out := append(bytes.Clone(file[:frame]), 0xFF, 0xC0, 0, 20, 8, 0, 128, 0, 128, 4, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0, 4, 0x11, 0)
	next := frame + 2 + int(binary.BigEndian.Uint16(file[frame+2:]))
	out = append(out, file[next:pass]...)
	out = append(out, 0xFF, 0xDA, 0, 14, 4, 1, 0, 2, 0, 3, 0, 4, 0, 0, 63, 0)
	return append(append(out, bytes.Repeat([]byte{0x28, 0xA2, 0x8A}, 16*16)...), 0xFF, 0xD9)
}

// uniformJPEG is a JPEG of w × h pixels of middle grey, both whole blocks: four blocks are three bytes. Source:
// ISO/IEC 10918-1, tables K.3 and K.5: no change of the mean is 00, end of block 1010.
func uniformJPEG(t testing.TB, w, h int) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 16, 16))
	for i := range img.Pix {
		img.Pix[i] = 128
	}
	file := jpegOf(t, img)
	frame, pass := bytes.Index(file, []byte{0xFF, 0xC0}), bytes.Index(file, []byte{0xFF, 0xDA})
	require.Positive(t, frame)
	require.Positive(t, pass)
	binary.BigEndian.PutUint16(file[frame+5:], uint16(h))
	binary.BigEndian.PutUint16(file[frame+7:], uint16(w))
	start := pass + 2 + int(binary.BigEndian.Uint16(file[pass+2:]))
	return append(append(file[:start:start], bytes.Repeat([]byte{0x28, 0xA2, 0x8A}, (w/8*h/8+3)/4)...), 0xFF, 0xD9)
}
