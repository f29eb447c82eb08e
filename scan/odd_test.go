package scan_test

import (
	"fmt"
	"image"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan"
	"gatefold/sheetmodel"
)

// Whatever size a picture has that is unpacked at all, it is refused in words: an abort inside the image
// library would end the program, and the evening.
func TestPages_OddSizes_AreRefusedInWords(t *testing.T) {
	forms, err := scan.Prepare(sheetmodel.BuiltinLayouts()...)
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(4, 5))
	for _, size := range []image.Point{{16, 16}, {17, 23}, {96, 64}, {16, 3000}, {3000, 16}, {200, 31}, {79, 81}, {401, 399}} {
		for _, noise := range []int{1, 256} {
			img := image.NewGray(image.Rectangle{Max: size})
			for i := range img.Pix {
				img.Pix[i] = uint8(r.IntN(noise))
			}
			name := fmt.Sprintf("%v, noise %d", size, noise)
			m, _, err := scan.Decode(name, pngOf(t, img))
			require.NoError(t, err)
			pages, err := scan.Pages(m, forms, scan.Options{})
			assert.Empty(t, pages, name)
			var refused *scan.RefusedError
			require.ErrorAs(t, err, &refused, name)
			require.NoError(t, m.Close())
		}
	}
}
