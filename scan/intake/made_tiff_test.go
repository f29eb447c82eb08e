package intake_test

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"image"
	"io"
	"testing"

	"github.com/stretchr/testify/require"
)

// tag is an entry of a TIFF directory: SHORT (3) or LONG (4) values. count, where it isn't 0, lies.
type tag struct {
	id, kind int
	values   []int
	count    int
}

func short(id int, values ...int) tag { return tag{id: id, kind: 3, values: values} }
func long(id int, values ...int) tag  { return tag{id: id, kind: 4, values: values} }

// pixelsAt is where the pixels of tiffWith lie.
const pixelsAt = 8

// tiffWith is a TIFF of one directory, which must list its tags in rising order. Source: TIFF 6.0, section 2.
func tiffWith(pixels []byte, tags ...tag) []byte {
	le := binary.LittleEndian
	out := append([]byte("II*\x00\x00\x00\x00\x00"), pixels...)
	entries := le.AppendUint16(nil, uint16(len(tags)))
	for _, t := range tags {
		var values []byte
		for _, v := range t.values {
			if t.kind == 3 {
				values = le.AppendUint16(values, uint16(v))
			} else {
				values = le.AppendUint32(values, uint32(v))
			}
		}
		if len(values) > 4 {
			at := len(out)
			out = append(out, values...)
			values = le.AppendUint32(nil, uint32(at))
		}
		count := max(t.count, len(t.values))
		entries = le.AppendUint16(le.AppendUint16(entries, uint16(t.id)), uint16(t.kind))
		entries = append(le.AppendUint32(entries, uint32(count)), values...)
		entries = append(entries, make([]byte, 4-len(values))...)
	}
	if len(out)%2 == 1 {
		out = append(out, 0)
	}
	le.PutUint32(out[4:], uint32(len(out)))
	return append(append(out, entries...), 0, 0, 0, 0)
}

// greyTags are those of a grey picture of one strip, with others in the place of their like, or between them.
func greyTags(w, h, packing, length int, others ...tag) []tag {
	tags := []tag{
		long(256, w), long(257, h), short(258, 8), short(259, packing), short(262, 1), long(273, pixelsAt),
		short(277, 1), long(278, h), long(279, length),
	}
	for _, o := range others {
		for i := 0; ; i++ {
			if i == len(tags) || tags[i].id > o.id {
				tags = append(tags[:i:i], append([]tag{o}, tags[i:]...)...)
				break
			}
			if tags[i].id == o.id {
				tags[i] = o
				break
			}
		}
	}
	return tags
}

// zeros is so many zeros, packed by deflate: a thousandth of them.
func zeros(t testing.TB, n int) []byte {
	t.Helper()
	var packed bytes.Buffer
	z, err := zlib.NewWriterLevel(&packed, zlib.BestSpeed)
	require.NoError(t, err)
	_, err = io.CopyN(z, endless{}, int64(n))
	require.NoError(t, err)
	require.NoError(t, z.Close())
	return packed.Bytes()
}

// endless reads as zeros without end.
type endless struct{}

func (endless) Read(p []byte) (int, error) {
	clear(p)
	return len(p), nil
}

// deflatedTIFF is a black picture. Packing 8 is deflate: Adobe, TIFF Technical Note 2 of 2002.
func deflatedTIFF(t testing.TB, w, h int) []byte {
	packed := zeros(t, w*h)
	return tiffWith(packed, greyTags(w, h, 8, len(packed))...)
}

// tiledTIFF has tiles of 32 × 32. Source: TIFF 6.0, section 15.
func tiledTIFF(img *image.Gray) []byte {
	var pixels []byte
	var starts, lengths []int
	const side = 32
	w, h := img.Rect.Dx(), img.Rect.Dy()
	for y := 0; y < h; y += side {
		for x := 0; x < w; x += side {
			starts, lengths = append(starts, pixelsAt+len(pixels)), append(lengths, side*side)
			for row := range side {
				pixels = append(pixels, img.Pix[(y+row)*img.Stride+x:][:side]...)
			}
		}
	}
	return tiffWith(pixels, long(256, w), long(257, h), short(258, 8), short(259, 1), short(262, 1), short(277, 1),
		long(322, side), long(323, side), long(324, starts...), long(325, lengths...))
}

// deepTIFF has 16 bits for each pixel, as some scanners make them.
func deepTIFF(img *image.Gray) []byte {
	var pixels []byte
	for _, v := range img.Pix {
		pixels = binary.LittleEndian.AppendUint16(pixels, uint16(v)<<8|uint16(v))
	}
	return tiffWith(pixels, greyTags(img.Rect.Dx(), img.Rect.Dy(), 1, len(pixels), short(258, 16))...)
}

// stripes is a picture of upright stripes, 16 px white, 16 px black and so on: what fax packing is tried with.
func stripes() *image.Gray {
	img := image.NewGray(image.Rect(0, 0, fileW, fileH))
	for i := range img.Pix {
		if i%fileW/16%2 == 0 {
			img.Pix[i] = 255
		}
	}
	return img
}

// faxStripes is stripes packed as ITU-T T.6 has it: a first row of runs, the codes for 16 white (101010) and 16
// black (0000010111) pixels from table 2 of T.4; then rows that are like the one above, a 1 for each change;
// at the end twice 000000000001.
func faxStripes() []byte {
	bits := ""
	for range fileW / 32 {
		bits += "001" + "101010" + "0000010111"
	}
	for range (fileH - 1) * fileW / 16 {
		bits += "1"
	}
	bits += "000000000001000000000001"
	out := make([]byte, (len(bits)+7)/8)
	for i, b := range bits {
		if b == '1' {
			out[i/8] |= 0x80 >> (i % 8)
		}
	}
	return out
}

// faxTIFF is stripes as office scanners send them. Packing 4 is T.6, and with colours 0 its zeros are white.
// Source: TIFF 6.0, section 11.
func faxTIFF() []byte {
	packed := faxStripes()
	return tiffWith(packed, greyTags(fileW, fileH, 4, len(packed), short(258, 1), short(262, 0))...)
}

// jpegTIFF is a TIFF whose strip is a JPEG. Source: TIFF Technical Note 2 of 1995, packing 7.
func jpegTIFF(t testing.TB, img *image.Gray) []byte {
	packed := jpegOf(t, img)
	return tiffWith(packed, greyTags(img.Rect.Dx(), img.Rect.Dy(), 7, len(packed))...)
}

// manyPagesTIFF lets so many directories of a file of one, each a copy of the first, show the same pixels.
func manyPagesTIFF(file []byte, pages int) []byte {
	le := binary.LittleEndian
	out := bytes.Clone(file)
	first := le.Uint32(out[4:])
	directory := bytes.Clone(out[first:])
	for range pages - 1 {
		le.PutUint32(out[len(out)-4:], uint32(len(out)))
		out = append(out, directory...)
	}
	return out
}
