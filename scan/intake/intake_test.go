package intake_test

import (
	"encoding/binary"
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/scan"
	"gatefold/scan/intake"
)

// open returns a Decoder that ends with the test.
func open(t testing.TB, opt intake.Options) *intake.Decoder {
	t.Helper()
	d, err := intake.Open(opt)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, d.Close()) })
	return d
}

// all takes every picture of a file and closes its Mat after look has seen it.
func all(t testing.TB, d *intake.Decoder, name string, file []byte, look func(intake.Picture)) (n int, errs []error) {
	t.Helper()
	for p, err := range d.Pictures(t.Context(), name, file) {
		if err != nil {
			errs = append(errs, err)
			continue
		}
		n++
		assert.Equal(t, []int{p.Meta.Width, p.Meta.Height}, []int{p.Grey.Cols(), p.Grey.Rows()})
		if look != nil {
			look(p)
		}
		require.NoError(t, p.Grey.Close())
	}
	return n, errs
}

// difference is the mean distance of grey values, or infinite where the sizes differ.
func difference(t testing.TB, got gocv.Mat, want *image.Gray) float64 {
	if got.Cols() != want.Rect.Dx() || got.Rows() != want.Rect.Dy() {
		return math.Inf(1)
	}
	pixels, err := got.DataPtrUint8()
	require.NoError(t, err)
	sum := 0.0
	for i, v := range pixels {
		sum += math.Abs(float64(v) - float64(want.Pix[i]))
	}
	return sum / float64(len(pixels))
}

// Any wrong turn of the test's picture differs by 25 and more; packing costs less than 1.
const sameDifference = 1.5

func TestPictures_AllEightOrientations_ShowTheUprightPicture(t *testing.T) {
	d := open(t, intake.Options{})
	want := gradient(fileW, fileH)
	for orientation := 1; orientation <= 8; orientation++ {
		lying := stored(want, orientation)
		for kind, file := range map[string][]byte{
			"jpeg": exifJPEG(jpegOf(t, lying), orientation),
			"tiff": tiffOf(binary.LittleEndian, orientation, lying),
		} {
			n, errs := all(t, d, "card", file, func(p intake.Picture) {
				assert.Equal(t, scan.Meta{Format: kind, Width: fileW, Height: fileH, Orientation: orientation}, p.Meta)
				assert.Less(t, difference(t, p.Grey, want), sameDifference, "%s, orientation %d", kind, orientation)
			})
			assert.Empty(t, errs)
			assert.Equal(t, 1, n)
		}
	}
}

func TestPictures_PDF_TurnedPagesStandUprightAtTheScannersResolution(t *testing.T) {
	d := open(t, intake.Options{})
	want := gradient(fileW, fileH)
	// /Rotate turns clockwise by so many degrees when shown: ISO 32000-1, table 30.
	for turned, orientation := range map[int]int{0: 1, 90: 6, 180: 3, 270: 8} {
		lying := stored(want, orientation)
		file := pdfOf([][]byte{jpegOf(t, lying)}, lying.Rect.Dx(), lying.Rect.Dy(), 200, turned)
		n, errs := all(t, d, "scan.pdf", file, func(p intake.Picture) {
			assert.Less(t, difference(t, p.Grey, want), sameDifference, "turned by %d", turned)
		})
		assert.Empty(t, errs)
		assert.Equal(t, 1, n)
	}
}

func TestPictures_ManyPages_ComeInOrder(t *testing.T) {
	d := open(t, intake.Options{})
	var pages []*image.Gray
	var jpegs [][]byte
	for i := range 5 {
		img := image.NewGray(image.Rect(0, 0, fileW, fileH))
		for k := range img.Pix {
			img.Pix[k] = uint8(40 * i)
		}
		pages = append(pages, img)
		jpegs = append(jpegs, jpegOf(t, img))
	}
	for name, file := range map[string][]byte{
		"little.tif": tiffOf(binary.LittleEndian, 1, pages...),
		"big.tif":    tiffOf(binary.BigEndian, 1, pages...),
		"scan.pdf":   pdfOf(jpegs, fileW, fileH, 300, 0),
	} {
		i := 0
		n, errs := all(t, d, name, file, func(p intake.Picture) {
			assert.Equal(t, []int{i + 1, 5}, []int{p.Page, p.Pages}, name)
			assert.Less(t, difference(t, p.Grey, pages[i]), sameDifference, "%s, page %d", name, i+1)
			i++
		})
		assert.Empty(t, errs, name)
		assert.Equal(t, 5, n, name)
	}
}
