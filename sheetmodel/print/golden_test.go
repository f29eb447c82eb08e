package print_test

import (
	"flag"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

var update = flag.Bool("update", false, "rewrite the golden pictures")

// A change of these pictures is a change of the printed form: look at them before committing.
func TestRaster_Golden(t *testing.T) {
	second := larch()
	second.Paper, second.SecondWriting = "half-letter", true
	spare := larch()
	spare.Spare = true
	four := larch()
	four.BibBoxes = 4
	for name, o := range map[string]sheetmodel.BindOptions{
		"card-a5": larch(), "card-half-letter-second-writing": second, "card-a5-spare": spare, "card-a5-four-boxes": four,
	} {
		l := bound(t, o)
		for i := range l.Sides {
			side := &l.Sides[i]
			card := larchCard(l, 2, 7)
			if o.Spare {
				card = print.Spares(card, 7, 7)[0]
			}
			// The layout's hash would change the picture with every code's wording.
			card.Identity.Layout = "000000"
			got, err := print.Raster(side, card, 4)
			require.NoError(t, err)
			compareGolden(t, filepath.Join("..", "..", "testdata", "golden", name+"-"+string(side.Name)+".png"), got)
		}
	}
}

func compareGolden(t *testing.T, file string, got *image.Gray) {
	t.Helper()
	if *update {
		require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o755))
		f, err := os.Create(file)
		require.NoError(t, err)
		require.NoError(t, png.Encode(f, got))
		require.NoError(t, f.Close())
		return
	}
	f, err := os.Open(file)
	require.NoError(t, err, "run the test with -update")
	defer func() { assert.NoError(t, f.Close()) }()
	img, err := png.Decode(f)
	require.NoError(t, err)
	want, ok := img.(*image.Gray)
	require.True(t, ok)
	require.Equal(t, want.Rect, got.Rect, file)
	far := 0
	for n := range got.Pix {
		// Other processors may round a coverage otherwise by a level or two.
		if d := int(got.Pix[n]) - int(want.Pix[n]); d > 3 || d < -3 {
			far++
		}
	}
	assert.Zero(t, far, "%s: pixels differ; if that is meant, run the test with -update and look at the picture", file)
}
