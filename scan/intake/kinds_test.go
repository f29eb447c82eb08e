package intake_test

import (
	"bytes"
	"encoding/binary"
	"image"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// oddFile is a file as it may come, and what must come of it.
type oddFile struct {
	kind string
	name string
	file func(testing.TB) []byte
	want string      // part of the one refusal, or empty
	n    int         // pictures; where none is said and nothing is refused: 1
	w, h int         // their size, where it matters
	see  *image.Gray // what each must show
	off  float64     // mean grey values that it may be off; default what packing costs
}

// given is a file that is there already.
func given(file []byte) func(testing.TB) []byte { return func(testing.TB) []byte { return file } }

// once makes a file when it is first asked for, and keeps it.
func once(file func(testing.TB) []byte) func(testing.TB) []byte {
	var made []byte
	return func(t testing.TB) []byte {
		if made == nil {
			made = file(t)
		}
		return made
	}
}

// cut is the first so many hundredths of a file.
func cut(file func(testing.TB) []byte, percent int) func(testing.TB) []byte {
	return func(t testing.TB) []byte {
		whole := file(t)
		return bytes.Clone(whole[:len(whole)*percent/100])
	}
}

// changed is a file with some bytes exchanged, once.
func changed(file func(testing.TB) []byte, from, to string) func(testing.TB) []byte {
	return func(t testing.TB) []byte {
		whole := file(t)
		require.Equal(t, 1, bytes.Count(whole, []byte(from)))
		return bytes.Replace(whole, []byte(from), []byte(to), 1)
	}
}

// repeated is a list of one thing, n times.
func repeated[T any](one T, n int) []T { return slices.Repeat([]T{one}, n) }

// What phones make of HEIC.
const (
	phoneW, phoneH = 4032, 3024
	tileSide       = 512
)

func oddFiles(t testing.TB) []oddFile {
	up := gradient(fileW, fileH)
	whole := jpegOf(t, up)
	read := func(name string) []byte {
		file, err := os.ReadFile("testdata/" + name)
		require.NoError(t, err)
		return file
	}
	heic := read("phone-6.heic")
	phoneJPEG := once(func(t testing.TB) []byte { return phonePhoto(t) })
	phonePNG := once(func(t testing.TB) []byte {
		img := matOf(t, noisy(phoneW, phoneH))
		defer img.Close()
		return packedBy(t, gocv.PNGFileExt, img)
	})
	phoneTIFF := once(func(testing.TB) []byte { return tiffOf(binary.LittleEndian, 1, noisy(phoneW, phoneH)) })
	frontTIFF := func(testing.TB) []byte { // its directory comes first
		img := noisy(1024, 768)
		file := tiffWith(nil, greyTags(1024, 768, 1, 1024*768)...)
		file = bytes.Replace(file, []byte{17, 1, 4, 0, 1, 0, 0, 0, pixelsAt, 0, 0, 0}, binary.LittleEndian.AppendUint32([]byte{17, 1, 4, 0, 1, 0, 0, 0}, uint32(len(file))), 1)
		return append(file, img.Pix...)
	}
	tile := once(func(t testing.TB) []byte {
		return heifEnc(t, "heic", [][]byte{jpegOf(t, coloured(noisy(tileSide, tileSide)))}, "-q", "50", "-p", "preset=ultrafast")
	})
	scannedPage := once(func(t testing.TB) []byte { return jpegOf(t, noisy(2480, 3508)) })
	phoneHEIC := func(t testing.TB) []byte {
		return grid{columns: 8, rows: 6, w: phoneW, h: phoneH, quarters: 3}.of(t, tile(t), tileSide)
	}
	officePDF := func(n int) func(testing.TB) []byte {
		return func(t testing.TB) []byte {
			return pdfOf(repeated(scannedPage(t), n), 2480, 3508, 300, 0)
		}
	}
	plain := func(format string, params ...int) func(testing.TB) []byte {
		return func(t testing.TB) []byte {
			m := matOf(t, up)
			defer m.Close()
			return packedBy(t, gocv.FileExt(format), m, params...)
		}
	}
	files := []oddFile{
		// What people send by mistake.
		{kind: "other", name: "empty.jpg", file: given(nil), want: "the file is empty; send it again"},
		{kind: "other", name: "note.jpg", file: given([]byte("bib 12, gate 4, and so on for a while")), want: "is none of JPEG, PNG, HEIC, TIFF and PDF; send"},
		{kind: "other", name: "film.heic", file: given([]byte("\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00isommp42")), want: "is a film; send"},
		{kind: "other", name: "film.jpg", file: given([]byte("\x00\x00\x00\x14ftypqt  \x00\x00\x00\x00qt  \x00\x00\x00\x08wide")), want: "is a film; send"},
		{kind: "other", name: "zeros.jpg", file: given(make([]byte, 1<<20)), want: "is none of JPEG, PNG, HEIC, TIFF and PDF; send"},
		{kind: "other", name: "webp.jpg", file: given([]byte("RIFF\x00\x00\x00\x00WEBPVP8 ")), want: "is a WebP picture; send"},
		{kind: "other", name: "big.tif", file: given([]byte("II+\x00\x08\x00\x00\x00\x10\x00\x00\x00\x00\x00\x00\x00")), want: "is a BigTIFF; "},

		{kind: "jpeg", name: "phone.jpg", file: phoneJPEG, w: 4000, h: 3000},
		{kind: "jpeg", name: "passes.jpg", file: func(t testing.TB) []byte { return progressive(t, up) }, see: up},
		{kind: "jpeg", name: "passes-80.jpg", file: func(t testing.TB) []byte { return progressive(t, noisy(10_000, 8000)) }, w: 10_000, h: 8000},
		{kind: "jpeg", name: "5000-passes.jpg", file: func(t testing.TB) []byte { return manyPasses(t) }, want: "it is packed in more than 100 passes"},
		{kind: "jpeg", name: "print-colours.jpg", file: cmykJPEG, want: "its colours are those of a print shop (CMYK); send"},
		{kind: "jpeg", name: "1-pixel.jpg", file: func(t testing.TB) []byte { return jpegOf(t, gradient(1, 1)) }, want: "1 × 1 pixels show no card; send the photo itself"},
		{kind: "jpeg", name: "strip.jpg", file: func(t testing.TB) []byte { return jpegOf(t, gradient(1, 9000)) }, want: "1 × 9000 pixels show no card"},
		{kind: "jpeg", name: "200-million.jpg", file: func(t testing.TB) []byte { return uniformJPEG(t, 16_320, 12_240) }, w: 8160, h: 6120},
		{kind: "jpeg", name: "320-million.jpg", file: func(t testing.TB) []byte { return uniformJPEG(t, 20_000, 16_000) }, w: 10_000, h: 8000},
		{kind: "jpeg", name: "400-million.jpg", file: func(t testing.TB) []byte { return jpegDeclaring(t, 32_640, 12_240) }, want: "32640 × 12240 pixels are more than 80 million; send it smaller"},
		{kind: "jpeg", name: "200-million-cut.jpg", file: func(t testing.TB) []byte { return jpegDeclaring(t, 16_320, 12_240) }, want: "the file is cut short"},
		{kind: "jpeg", name: "10%.jpg", file: cut(phoneJPEG, 10), want: "the file is cut short; send it again"},
		{kind: "jpeg", name: "50%.jpg", file: cut(phoneJPEG, 50), want: "the file is cut short; send it again"},
		{kind: "jpeg", name: "99%.jpg", file: cut(phoneJPEG, 99), want: "the file is cut short; send it again"},
		{kind: "jpeg", name: "99%-closed.jpg", file: func(t testing.TB) []byte { return append(cut(phoneJPEG, 99)(t), 0xFF, 0xD9) }, want: "the file is cut short: 29"},
		{kind: "jpeg", name: "thumbnail.jpg", file: func(t testing.TB) []byte { return withThumbnail(t, jpegOf(t, stored(up, 6)), 6) }, see: up},
		{kind: "jpeg", name: "exif-other-order.jpg", file: given(withSegment(whole, 1, exifOf("XX", directory(0, [4]uint32{0x112, 3, 1, 6})))), see: up},
		{kind: "jpeg", name: "exif-9.jpg", file: given(exifJPEG(whole, 9)), see: up},
		{kind: "jpeg", name: "exif-ring.jpg", file: given(withSegment(whole, 1, exifOf("MM", directory(8, [4]uint32{0x10F, 3, 1, 6})))), see: up},
		{kind: "jpeg", name: "exif-ring-below.jpg", file: given(withSegment(whole, 1, exifOf("MM", directory(0, [4]uint32{0x8769, 4, 1, 8})))), see: up},
		{kind: "jpeg", name: "exif-huge.jpg", file: given(withSegment(whole, 1, exifOf("MM", directory(0, [4]uint32{0x10E, 2, 0xFFFF_FFF0, 64}, [4]uint32{0x112, 3, 0xFFFF_FFFF, 6})))), see: up},
		{kind: "jpeg", name: "exif-outside.jpg", file: given(withSegment(whole, 1, exifOf("MM", directory(0xFFFF_FFF0, [4]uint32{0x8769, 4, 1, 0xFFFF_FF00})))), see: up},

		{kind: "png", name: "phone.png", file: phonePNG, w: phoneW, h: phoneH},
		{kind: "png", name: "1-pixel.png", file: func(t testing.TB) []byte { return pngOf(t, gradient(1, 1)) }, want: "1 × 1 pixels show no card"},
		{kind: "png", name: "strip.png", file: func(t testing.TB) []byte { return pngOf(t, gradient(9000, 2)) }, want: "9000 × 2 pixels show no card"},
		{kind: "png", name: "black-80-million.png", file: func(t testing.TB) []byte { return blackPNG(t, 10_000, 8000) }, w: 10_000, h: 8000},
		{kind: "png", name: "black-200-million.png", file: func(t testing.TB) []byte { return blackPNG(t, 16_320, 12_240) }, want: "16320 × 12240 pixels are more than 80 million"},
		{kind: "png", name: "bomb.png", file: func(t testing.TB) []byte { return pngDeclaring(t, 100_000, 100_000) }, want: "100000 × 100000 pixels are more than 80 million"},
		{kind: "png", name: "bomb-2^31.png", file: func(t testing.TB) []byte { return pngDeclaring(t, 1<<31-1, 1<<31-1) }, want: "dimension overflow; send the photo as the phone took it"},
		{kind: "png", name: "note-bomb.png", file: func(t testing.TB) []byte { return pngWithText(t, 1<<30) }, w: 64, h: 64},
		{kind: "png", name: "10%.png", file: cut(phonePNG, 10), want: "the file is cut short"},
		{kind: "png", name: "50%.png", file: cut(phonePNG, 50), want: "the file is cut short"},
		{kind: "png", name: "99%.png", file: cut(phonePNG, 99), want: "the file is cut short"},

		{kind: "tiff", name: "phone.tif", file: phoneTIFF, w: phoneW, h: phoneH},
		{kind: "tiff", name: "fax.tif", file: given(faxTIFF()), see: stripes()},
		{kind: "tiff", name: "jpeg.tif", file: func(t testing.TB) []byte { return jpegTIFF(t, up) }, see: up},
		{kind: "tiff", name: "tiles.tif", file: given(tiledTIFF(up)), see: up},
		{kind: "tiff", name: "16-bits.tif", file: given(deepTIFF(up)), see: up},
		{kind: "tiff", name: "lzw.tif", file: plain(".tif", 259, 5), see: up},
		{kind: "tiff", name: "deflate.tif", file: plain(".tif", 259, 8), see: up},
		{kind: "tiff", name: "packbits.tif", file: plain(".tif", 259, 32773), see: up},
		{kind: "tiff", name: "1-pixel.tif", file: given(tiffOf(binary.BigEndian, 1, gradient(1, 1))), want: "1 × 1 pixels show no card"},
		{kind: "tiff", name: "black-80-million.tif", file: func(t testing.TB) []byte { return deflatedTIFF(t, 10_000, 8000) }, want: "its strips or tiles are so large that it needs more than 512 MB; send it smaller"},
		{kind: "tiff", name: "black-60-million.tif", file: func(t testing.TB) []byte { return deflatedTIFF(t, 10_000, 6000) }, w: 10_000, h: 6000},
		{kind: "tiff", name: "black-200-million.tif", file: func(t testing.TB) []byte { return deflatedTIFF(t, 16_320, 12_240) }, want: "16320 × 12240 pixels are more than 80 million"},
		{kind: "tiff", name: "2^32-strips.tif", file: given(tiffWith(nil, greyTags(4000, 3000, 1, 12_000_000, tag{id: 273, kind: 4, values: []int{8}, count: 1<<32 - 1}, long(278, 1))...)), want: "the picture can't be unpacked"},
		{kind: "tiff", name: "one-strip-20000-times.tif", file: given(tiffWith(make([]byte, 4000), greyTags(4000, 20_000, 1, 0,
			long(273, repeated(pixelsAt, 20_000)...), long(278, 1), long(279, repeated(4000, 20_000)...))...)), w: 4000, h: 20_000},
		{kind: "tiff", name: "2^30-tile.tif", file: given(tiffWith(make([]byte, 256), long(256, 4000), long(257, 3000), short(258, 8), short(259, 1), short(262, 1), short(277, 1),
			long(322, 1<<30), long(323, 1<<30), long(324, pixelsAt), long(325, 256))), want: "its strips or tiles are so large"},
		{kind: "tiff", name: "65535-samples.tif", file: given(tiffWith(make([]byte, 256), greyTags(4000, 3000, 1, 256, short(277, 65_535))...)), want: "the picture can't be unpacked"},
		{kind: "tiff", name: "10000-pages.tif", file: given(tiffOf(binary.LittleEndian, 1, repeated(gradient(16, 16), 10_000)...)), want: "it has more than 200 pages; split it"},
		{kind: "tiff", name: "200-black-pages.tif", file: func(t testing.TB) []byte { return manyPagesTIFF(deflatedTIFF(t, 10_000, 8000), 200) }, want: "million pixels together; split it"},
		{kind: "tiff", name: "ring.tif", file: func(testing.TB) []byte {
			ring := tiffOf(binary.LittleEndian, 1, up, up)
			copy(ring[len(ring)-4:], ring[4:8])
			return ring
		}, want: "the file is damaged: its pages run in a ring"},
		{kind: "tiff", name: "ring-below.tif", file: func(testing.TB) []byte {
			file := tiffWith(up.Pix, greyTags(fileW, fileH, 1, len(up.Pix), long(330, 0))...)
			return bytes.Replace(file, []byte{74, 1, 4, 0, 1, 0, 0, 0, 0, 0, 0, 0}, append([]byte{74, 1, 4, 0, 1, 0, 0, 0}, file[4:8]...), 1)
		}, see: up},
		{kind: "tiff", name: "raw.tif", file: given(rawTIFF()), want: "holds no picture of its own, as raw files of cameras do"},
		{kind: "tiff", name: "10%.tif", file: cut(phoneTIFF, 10), want: "the file is cut short"},
		{kind: "tiff", name: "50%.tif", file: cut(phoneTIFF, 50), want: "the file is cut short"},
		{kind: "tiff", name: "99%.tif", file: cut(phoneTIFF, 99), want: "the file is cut short"},
		{kind: "tiff", name: "50%-of-the-strip.tif", file: cut(frontTIFF, 50), want: "the picture can't be unpacked"},
		{kind: "tiff", name: "99%-of-the-strip.tif", file: cut(frontTIFF, 99), want: "the picture can't be unpacked"},

		{kind: "heic", name: "phone.heic", file: phoneHEIC, w: phoneH, h: phoneW},
		{kind: "heic", name: "one-tile.heic", file: func(t testing.TB) []byte {
			return heifEnc(t, "heic", [][]byte{jpegOf(t, coloured(noisy(phoneW, phoneH)))}, "-q", "50", "-p", "preset=ultrafast")
		}, w: phoneW, h: phoneH},
		{kind: "heic", name: "ten-bits.heic", file: func(t testing.TB) []byte {
			return heifEnc(t, "heic", [][]byte{deepPNG(t, noisy(phoneW, phoneH))}, "-b", "10", "-q", "50", "-p", "preset=ultrafast")
		}, w: phoneW, h: phoneH},
		{kind: "heic", name: "burst.heic", file: func(t testing.TB) []byte {
			return heifEnc(t, "heic", [][]byte{jpegOf(t, up), jpegOf(t, gradient(320, 240)), jpegOf(t, gradient(240, 320))}, "-q", "95", "-t", "64")
		}, see: up},
		{kind: "heic", name: "exif-6.heic", file: func(t testing.TB) []byte { // Exif alone turns nothing here
			return heifEnc(t, "heic", [][]byte{exifJPEG(jpegOf(t, stored(up, 6)), 6)}, "-q", "95")
		}, see: stored(up, 6)},
		{kind: "heic", name: "avif.heic", file: func(t testing.TB) []byte {
			return heifEnc(t, "avif", [][]byte{jpegOf(t, coloured(gradient(1280, 960)))}, "-q", "60", "-p", "speed=9")
		}, w: 1280, h: 960},
		{kind: "heic", name: "1-pixel.heic", file: given(bytes.ReplaceAll(heic, sizeProperty(64, 96), sizeProperty(1, 1))), want: "1 × 1 pixels show no card"},
		{kind: "heic", name: "48-million.heic", file: func(t testing.TB) []byte {
			return grid{columns: 16, rows: 12, w: 8064, h: 6048, quarters: 3}.of(t, tile(t), tileSide)
		}, w: 6048, h: 8064},
		{kind: "heic", name: "63-million.heic", file: func(t testing.TB) []byte {
			return grid{columns: 16, rows: 15, w: 8192, h: 7680, quarters: 1}.of(t, tile(t), tileSide)
		}, w: 7680, h: 8192},
		{kind: "heic", name: "200-million.heic", file: func(t testing.TB) []byte {
			return grid{columns: 32, rows: 24, w: 16_320, h: 12_240}.of(t, tile(t), tileSide)
		}, want: "16320 × 12240 pixels are more than 80 million"},
		{kind: "heic", name: "small-says-200-million.heic", file: given(bytes.ReplaceAll(heic, sizeProperty(64, 96), sizeProperty(16_320, 12_240))), want: "12240 × 16320 pixels are more than 80 million"},
		{kind: "heic", name: "grid-of-itself.heic", file: func(t testing.TB) []byte {
			return grid{columns: 2, rows: 2, w: 1024, h: 1024, parts: []int{2, 2, 2, 2}}.of(t, tile(t), tileSide)
		}, want: "can't be unpacked"},
		{kind: "heic", name: "grid-with-itself.heic", file: func(t testing.TB) []byte { // seen only while it is unpacked
			return grid{columns: 2, rows: 2, w: 1024, h: 1024, parts: []int{1, 2, 1, 1}}.of(t, tile(t), tileSide)
		}, want: "can't be unpacked"},
		// libheif takes 32 extents, and reads such a file then.
		{kind: "heic", name: "32-extents.heic", file: func(t testing.TB) []byte {
			return grid{columns: 1, rows: 1, w: tileSide, h: tileSide, extents: 32}.of(t, tile(t), tileSide)
		}, w: tileSide, h: tileSide},
		{kind: "heic", name: "30000-extents.heic", file: func(t testing.TB) []byte {
			return grid{columns: 1, rows: 1, w: tileSide, h: tileSide, extents: 30_000}.of(t, tile(t), tileSide)
		}, want: "can't be unpacked"},
		{kind: "heic", name: "10%.heic", file: cut(phoneHEIC, 10), want: "the file is cut short; send it again"},
		{kind: "heic", name: "50%.heic", file: cut(phoneHEIC, 50), want: "the file is cut short; send it again"},
		{kind: "heic", name: "99%.heic", file: cut(phoneHEIC, 99), want: "the file is cut short; send it again"},

		{kind: "pdf", name: "1-page.pdf", file: officePDF(1), w: 2480, h: 3508},
		{kind: "pdf", name: "10-pages.pdf", file: officePDF(10), n: 10, w: 2480, h: 3508},
		{kind: "pdf", name: "201-pages.pdf", file: func(t testing.TB) []byte { return pdfOf(repeated(whole, 201), fileW, fileH, 300, 0) }, want: "the PDF has 201 pages, more than 200; split it"},
		{kind: "pdf", name: "200-walls.pdf", file: func(t testing.TB) []byte { return pdfOf(repeated(whole, 200), 9000, 8000, 300, 0) }, want: "million pixels together; split it"},
		{kind: "pdf", name: "fax.pdf", file: given(faxPDF()), see: stripes(), off: 7},
		{kind: "pdf", name: "jbig2.pdf", file: given(jbig2PDF(fileH)), see: stripes(), off: 7},
		{kind: "pdf", name: "jbig2-bomb.pdf", file: given(jbig2PDF(1<<31 - 1)), n: -1},
		{kind: "pdf", name: "locked.pdf", file: func(t testing.TB) []byte { return lockedPDF(t, faxPDF(), "secret", "other") }, want: "the PDF is locked with a password; save it without one"},
		{kind: "pdf", name: "no-printing.pdf", file: func(t testing.TB) []byte { return lockedPDF(t, faxPDF(), "", "other") }, see: stripes(), off: 7},
		{kind: "pdf", name: "wall.pdf", file: changed(func(t testing.TB) []byte { return pdfOf([][]byte{whole}, 320, 240, 300, 0) }, "[0 0 76.8000 57.6000]", "[0 0 14400. 14400.]  "), want: "60000 × 60000 pixels are more than 80 million"},
		// A phone's app may call a picture as large as a table, or as small as a stamp.
		{kind: "pdf", name: "stamp.pdf", file: func(t testing.TB) []byte { return pdfOf([][]byte{jpegOf(t, gradient(320, 240))}, 320, 240, 5000, 0) }, w: 320, h: 240},
		{kind: "pdf", name: "table.pdf", file: func(t testing.TB) []byte { return pdfOf([][]byte{jpegOf(t, gradient(320, 240))}, 320, 240, 2, 0) }, w: 320, h: 240},
		{kind: "pdf", name: "1-pixel.pdf", file: func(t testing.TB) []byte { return pdfOf([][]byte{jpegOf(t, gradient(1, 1))}, 1, 1, 300, 0) }, want: "1 × 1 pixels show no card"},
		{kind: "pdf", name: "10%.pdf", file: cut(officePDF(2), 10), want: "the PDF "},
		{kind: "pdf", name: "50%.pdf", file: cut(officePDF(2), 50), n: -1},
		{kind: "pdf", name: "99%.pdf", file: cut(officePDF(2), 99), n: -1},
		{kind: "pdf", name: "lines.pdf", file: func(t testing.TB) []byte { return busyPDF(t, 1, 4_000_000) }, want: "the PDF takes too long to draw; send photos or a plain scan"},

		// One kind under another's name: its first bytes count.
		{kind: "name", name: "jpeg.png", file: given(whole), see: up},
		{kind: "name", name: "jpeg.heic", file: given(whole), see: up},
		{kind: "name", name: "png.jpg", file: func(t testing.TB) []byte { return pngOf(t, up) }, see: up},
		{kind: "name", name: "tiff.pdf", file: given(tiffOf(binary.LittleEndian, 1, up, up)), n: 2, see: up},
		{kind: "name", name: "pdf.jpg", file: func(t testing.TB) []byte { return pdfOf([][]byte{whole}, fileW, fileH, 300, 0) }, see: up},
		{kind: "name", name: "heic.jpg", file: given(heic), see: up},
	}
	for name, file := range hostilePDFs(t) {
		files = append(files, oddFile{kind: "pdf", name: name + ".pdf", file: given(file), n: -1})
	}
	return files
}
