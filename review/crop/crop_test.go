package crop_test

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/crop"
	"gatefold/sheetmodel"
)

// ramp is a page of 40 × 30 px whose grey tells the pixel: 4 px/mm make it 10 × 7.5 mm.
func ramp() *image.Gray {
	img := image.NewGray(image.Rect(0, 0, 40, 30))
	for y := range 30 {
		for x := range 40 {
			img.SetGray(x, y, color.Gray{Y: uint8(x + 5*y)})
		}
	}
	return img
}

func cutter(t *testing.T, img image.Image) *crop.Cutter {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	return &crop.Cutter{Open: func(string) (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(b.Bytes())), nil }}
}

func TestCut_MillimetresBecomeTheirPixels(t *testing.T) {
	c := cutter(t, ramp())
	got, err := c.Cut(crop.Crop{Page: "p", PxPerMM: 4, Rect: sheetmodel.Rect{X: 1, Y: 2, W: 2, H: 1}})
	require.NoError(t, err)
	assert.Equal(t, image.Rect(0, 0, 8, 4), got.Bounds())
	assert.Equal(t, uint8(4+5*8), got.GrayAt(0, 0).Y)
	assert.Equal(t, uint8(11+5*11), got.GrayAt(7, 3).Y)
}

func TestCut_OverTheEdge_IsCutOffAndOutsideIsAnError(t *testing.T) {
	c := cutter(t, ramp())
	got, err := c.Cut(crop.Crop{Page: "p", PxPerMM: 4, Rect: sheetmodel.Rect{X: -1, Y: -1, W: 2, H: 2}})
	require.NoError(t, err)
	assert.Equal(t, image.Rect(0, 0, 4, 4), got.Bounds())
	_, err = c.Cut(crop.Crop{Page: "p", PxPerMM: 4, Rect: sheetmodel.Rect{X: 50, Y: 0, W: 2, H: 2}})
	require.ErrorContains(t, err, "outside the page")
	_, err = c.Cut(crop.Crop{PxPerMM: 4})
	require.ErrorContains(t, err, "no page was kept")
}

func TestCut_AnyColourModel_IsGrey(t *testing.T) {
	rgba := image.NewRGBA(image.Rect(0, 0, 40, 30))
	for i := range rgba.Pix {
		rgba.Pix[i] = 200
	}
	for i := 3; i < len(rgba.Pix); i += 4 {
		rgba.Pix[i] = 255
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, rgba, nil))
	c := &crop.Cutter{Open: func(string) (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(b.Bytes())), nil }}
	for _, c := range []*crop.Cutter{cutter(t, rgba), c} {
		got, err := c.Cut(crop.Crop{Page: "p", PxPerMM: 4, Rect: sheetmodel.Rect{W: 1, H: 1}})
		require.NoError(t, err)
		assert.InDelta(t, 200, got.GrayAt(2, 2).Y, 2)
	}
}

func TestPNG_IsThatCropAndPagesAreReadOnce(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, ramp()))
	opened := 0
	c := &crop.Cutter{Open: func(string) (io.ReadCloser, error) {
		opened++
		return io.NopCloser(bytes.NewReader(b.Bytes())), nil
	}}
	for range 3 {
		got, err := c.PNG(crop.Crop{Page: "p", PxPerMM: 4, Rect: sheetmodel.Rect{X: 1, Y: 1, W: 3, H: 2}})
		require.NoError(t, err)
		img, err := png.Decode(bytes.NewReader(got))
		require.NoError(t, err)
		assert.Equal(t, image.Rect(0, 0, 12, 8), img.Bounds())
	}
	assert.Equal(t, 1, opened)
}

func TestCut_PageBrokenOrMissing_SaysWhich(t *testing.T) {
	for want, open := range map[string]func(string) (io.ReadCloser, error){
		"page pages/x.png: gone":        func(string) (io.ReadCloser, error) { return nil, errors.New("gone") },
		"page pages/x.png: image: unkn": func(string) (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader([]byte("no image"))), nil },
	} {
		_, err := (&crop.Cutter{Open: open}).Cut(crop.Crop{Sheet: 3, Page: "pages/x.png", PxPerMM: 4, Rect: sheetmodel.Rect{W: 1, H: 1}})
		require.ErrorContains(t, err, want)
	}
}

// What isn't named to be shown is black in the file itself, and no change to it changes a byte.
func TestCut_OnlyWhatIsShown_TheRestIsBlack(t *testing.T) {
	k := crop.Crop{Page: "p", PxPerMM: 4, Rect: sheetmodel.Rect{X: 1, Y: 1, W: 6, H: 4}, Show: []sheetmodel.Rect{{X: 2, Y: 2, W: 1, H: 1}, {X: 4, Y: 2, W: 2, H: 1}}}
	got, err := cutter(t, ramp()).Cut(k)
	require.NoError(t, err)
	require.Equal(t, image.Rect(0, 0, 24, 16), got.Bounds())
	seen := 0
	for y := range 16 {
		for x := range 24 {
			px, py := x+4, y+4 // of the page
			if py >= 8 && py < 12 && (px >= 8 && px < 12 || px >= 16 && px < 24) {
				seen++
				assert.Equal(t, uint8(px+5*py), got.GrayAt(x, y).Y)
				continue
			}
			require.Zero(t, got.GrayAt(x, y).Y, "%d, %d", x, y)
		}
	}
	assert.Equal(t, 48, seen)
	other := ramp()
	for y := range 30 {
		for x := range 40 {
			if y < 8 || y >= 12 || x < 8 || x >= 12 && x < 16 || x >= 24 {
				other.SetGray(x, y, color.Gray{Y: 77})
			}
		}
	}
	want, err := cutter(t, ramp()).PNG(k)
	require.NoError(t, err)
	changed, err := cutter(t, other).PNG(k)
	require.NoError(t, err)
	assert.Equal(t, want, changed)
}

// Files are handed out again without decoding the page, other rectangles and other pages are other files, and what is
// held has a limit. Our own logic.
func TestPNG_IsHeldAndKeptApart(t *testing.T) {
	noise := rand.New(rand.NewPCG(1, 2))
	img := image.NewGray(image.Rect(0, 0, 900, 900))
	for i := range img.Pix {
		img.Pix[i] = byte(noise.Uint32()) // doesn't compress
	}
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	opened := 0
	c := &crop.Cutter{Open: func(string) (io.ReadCloser, error) {
		opened++
		return io.NopCloser(bytes.NewReader(b.Bytes())), nil
	}}
	at := func(page string, x sheetmodel.MM) []byte {
		file, err := c.PNG(crop.Crop{Sheet: 1, Page: page, PxPerMM: 4, Rect: sheetmodel.Rect{X: x, Y: 10, W: 150, H: 150}})
		require.NoError(t, err)
		return file
	}
	first := at("a.png", 10)
	assert.NotEqual(t, first, at("a.png", 20))
	for i := range 4 {
		at(fmt.Sprintf("other-%d.png", i), 10) // a.png is no longer held as a picture
	}
	before := opened
	assert.Equal(t, first, at("a.png", 10))
	assert.Equal(t, before, opened, "it was held as a file")
	for i := range 120 {
		at(fmt.Sprintf("more-%d.png", i), 10)
	}
	before = opened
	assert.Equal(t, first, at("a.png", 10))
	assert.Equal(t, before+1, opened, "it was let go of, and is made again")
}
