package scan_test

import (
	"fmt"
	"image"
	"image/draw"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/scan"
	"gatefold/sheetmodel"
)

// Whatever size a picture has that is unpacked at all, it is refused in words: an abort inside the image
// library would end the program, and the evening.
func TestPages_OddSizes_AreRefusedInWords(t *testing.T) {
	forms, err := scan.Prepare(sheetmodel.BuiltinLayouts()...)
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(4, 5))
	for _, size := range []image.Point{{16, 16}, {17, 23}, {96, 64}, {16, 3000}, {3000, 16}, {200, 31}, {79, 81}, {401, 399}, {320, 16}, {65_535, 16}, {16, 50_000}, {900_000, 17}} {
		for _, noise := range []int{1, 256} {
			img := image.NewGray(image.Rectangle{Max: size})
			for i := range img.Pix {
				img.Pix[i] = uint8(r.IntN(noise))
			}
			name := fmt.Sprintf("%v, noise %d", size, noise)
			m, err := gocv.NewMatFromBytes(size.Y, size.X, gocv.MatTypeCV8U, img.Pix)
			require.NoError(t, err)
			pages, err := scan.Pages(m, forms, scan.Options{})
			assert.Empty(t, pages, name)
			var refused *scan.RefusedError
			require.ErrorAs(t, err, &refused, name)
			require.NoError(t, m.Close())
		}
	}
}

// A picture of many frames side by side, as panoramas are: the card in it is found, wherever it is, or refused in words.
func TestPages_CardInAVeryLongPicture_IsStraightened(t *testing.T) {
	l, _ := layoutsOf(t, "a5")
	forms := formsOf(t, l)
	card := flatCard(t, l, sheetmodel.Front, 3)
	size := card.Rect.Size()
	for _, at := range []image.Point{{}, {X: 33_000 - size.X}, {X: 33_000 - size.X + 55}} {
		wide := image.NewGray(image.Rect(0, 0, 33_000, 1_700))
		fillGrey(wide, wide.Rect, 120)
		draw.Draw(wide, card.Rect.Add(at), card, image.Point{}, draw.Src)
		pages, err := pagesOf(t, wide, forms)
		require.NoError(t, err, at)
		require.Len(t, pages, 1, at)
		miss := worstMiss(pages[0], func(p sheetmodel.SheetPoint) sheetmodel.PhotoPoint {
			q := onFlat(p)
			return sheetmodel.PhotoPoint{X: q.X + float64(at.X), Y: q.Y}
		})
		assert.Less(t, miss, 0.3, at)
	}
}
