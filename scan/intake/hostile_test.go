package intake_test

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan/intake"
)

// patient is how long a refusal may take here. On an idle computer none takes 1 s, as report.md says; tests
// share theirs.
const patient = 15 * time.Second

// Pages that are bad don't take the good ones along.
func TestPictures_OneBadPage_CostsThatPage(t *testing.T) {
	d := open(t, intake.Options{})
	n, errs := all(t, d, "scan.tif", tiffOf(binary.LittleEndian, 1, gradient(40, 30), gradient(2, 2), gradient(30, 40)), nil)
	assert.Equal(t, 2, n)
	require.Len(t, errs, 1)
	require.EqualError(t, errs[0], "photo scan.tif: page 2: 2 × 2 pixels show no card; send the photo itself")
}

// sizeProperty is a HEIC box that declares a size. Source: ISO/IEC 23008-12, 6.5.3.
func sizeProperty(w, h int) []byte {
	b := []byte("ispe\x00\x00\x00\x00")
	return binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(b, uint32(w)), uint32(h))
}

// rawTIFF is a TIFF whose only picture says that it is a small copy of another. Source: TIFF 6.0, tag 254.
func rawTIFF() []byte {
	file := tiffOf(binary.LittleEndian, 1, gradient(16, 16))
	entry := binary.LittleEndian.Uint32(file[4:]) + 2 + 2*12 // bits per sample, not needed here
	binary.LittleEndian.PutUint16(file[entry:], 254)
	binary.LittleEndian.PutUint16(file[entry+2:], 4)
	put32(file[entry+8:], binary.LittleEndian, 1)
	return file
}

// pngWithText is a small PNG with a packed note of so many zeros. Source: ISO/IEC 15948, 11.3.4.4.
func pngWithText(t testing.TB, zeros int) []byte {
	t.Helper()
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	block := make([]byte, 1<<20)
	for range zeros >> 20 {
		_, err := z.Write(block)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	chunk := append([]byte("zTXtComment\x00\x00"), packed.Bytes()...)
	out := binary.BigEndian.AppendUint32(nil, uint32(len(chunk)-4))
	out = binary.BigEndian.AppendUint32(append(out, chunk...), crc32.ChecksumIEEE(chunk))
	file := pngOf(t, gradient(64, 64))
	const header = 8 + 25 // signature and IHDR
	return append(append(append([]byte{}, file[:header]...), out...), file[header:]...)
}

// manyPasses is a JPEG in many passes, each of which says nothing new and makes the unpacker go over the
// whole picture once more. Source: ISO/IEC 10918-1, annex G.
func manyPasses(t testing.TB) []byte {
	t.Helper()
	file := jpegOf(t, gradient(64, 64))
	frame := bytes.Index(file, []byte{0xFF, 0xC0})
	start := bytes.Index(file, []byte{0xFF, 0xDA})
	require.Positive(t, frame)
	require.Positive(t, start)
	file[frame+1] = 0xC2 // in passes
	out := append([]byte{}, file[:start]...)
	for range 5000 {
		// The first bit of the mean values, of one part, all zero: 64 blocks of one code each.
		out = append(out, 0xFF, 0xDA, 0, 8, 1, 1, 0, 0, 0, 0)
		out = append(out, bytes.Repeat([]byte{0}, 16)...)
	}
	return append(out, 0xFF, 0xD9)
}

// allZero is a PNG of w × h black pixels: a few kB that unpack to w*h bytes.
func allZero(t testing.TB, w, h int) []byte {
	t.Helper()
	return pngOf(t, image.NewGray(image.Rect(0, 0, w, h)))
}

// A file that asks for more memory than there may be costs itself; the next is read by a fresh worker.
func TestPictures_MoreMemoryThanAllowed_CostsThatFile(t *testing.T) {
	d := open(t, intake.Options{Limits: intake.Limits{Memory: 24 << 20}})
	_, errs := all(t, d, "large.png", allZero(t, 8000, 6000), nil)
	require.Len(t, errs, 1)
	assert.Regexp(t, `^photo large\.png: (unpacking it broke off \(.*\): it is damaged, or needs more than 24 MB|the picture can't be unpacked); `, errs[0].Error())
	n, errs := all(t, d, "small.png", pngOf(t, gradient(64, 64)), nil)
	assert.Empty(t, errs)
	assert.Equal(t, 1, n)
	// The same file, with the memory that files have by default.
	n, errs = all(t, open(t, intake.Options{}), "large.png", allZero(t, 8000, 6000), nil)
	assert.Empty(t, errs)
	assert.Equal(t, 1, n)
}

// Libraries that are busy can't be asked to stop; tools of PDF are processes of their own.
func TestPictures_TooSlow_CostsThatFile(t *testing.T) {
	d := open(t, intake.Options{Limits: intake.Limits{CPU: time.Millisecond, Each: time.Nanosecond}})
	_, errs := all(t, d, "slow.png", allZero(t, 8000, 6000), nil)
	require.Len(t, errs, 1)
	require.EqualError(t, errs[0], "photo slow.png: it can't be unpacked within 0.0 s; send the photo as the phone took it, as JPEG")

	d = open(t, intake.Options{})
	began := time.Now()
	_, errs = all(t, d, "slow.pdf", busyPDF(t, 1, 4_000_000), nil)
	assert.Less(t, time.Since(began), patient)
	require.Len(t, errs, 1)
	require.EqualError(t, errs[0], "photo slow.pdf: the PDF takes too long to draw; send photos or a plain scan")

	// Quickly listed, slowly drawn: the first page ends it for the other 199. On a busy machine listing them may
	// be what takes too long.
	began = time.Now()
	_, errs = all(t, d, "slow.pdf", busyPDF(t, 200, 4000), nil)
	assert.Less(t, time.Since(began), patient)
	require.Len(t, errs, 1)
	require.Regexp(t, `^photo slow\.pdf: (page 1: )?the PDF takes too long to draw; send photos or a plain scan$`, errs[0].Error())

	n, errs := all(t, d, "next.jpg", jpegOf(t, gradient(64, 64)), nil)
	assert.Empty(t, errs)
	assert.Equal(t, 1, n)
}

// busyPDF draws so many dashed lines across each page, packed into few bytes. Source: ISO 32000-1, 7.4.4, 8.4.3.6
// and 8.5.
func busyPDF(t testing.TB, pages, lines int) []byte {
	t.Helper()
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	_, err := z.Write([]byte("[0.02 0.03] 0 d 0.01 w\n"))
	require.NoError(t, err)
	thousand := bytes.Repeat([]byte("0 0 m 288 288 l S 0 288 m 288 0 l S\n"), 500)
	for range lines / 1000 {
		_, err := z.Write(thousand)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	small := make([][]byte, pages)
	for i := range small {
		small[i] = jpegOf(t, gradient(16, 16))
	}
	file := pdfOf(small, 16, 16, 4, 0)
	plain := regexp.MustCompile(`<< /Length \d+ >>\nstream\n(?s:q .*? Q)\nendstream`)
	require.True(t, plain.Match(file))
	// The table of places is off by then; readers look for the objects themselves.
	return plain.ReplaceAllLiteral(file, fmt.Appendf(nil, "<< /Length %d /Filter /FlateDecode >>\nstream\n%s\nendstream", packed.Len(), packed.Bytes()))
}

// deflated packs b. Source: RFC 1950.
func deflated(t testing.TB, b []byte) []byte {
	t.Helper()
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	_, err := z.Write(b)
	require.NoError(t, err)
	require.NoError(t, z.Close())
	return packed.Bytes()
}
