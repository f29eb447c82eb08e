//go:build cgo && linux

package reading

import (
	"image"
	_ "image/png" // of blank cards
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/draw"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// A faint photocopy's paper is grainy. What is taken for print hides pencil: in the middle of the fields of its rows
// there is none, but for the specks that copying makes. Our own logic.
func TestPrintedOn_GrainyPaper_IsNoPrint(t *testing.T) {
	for _, name := range []string{"photocopy", "dense-columns", "landscape", "every-racer"} {
		t.Run(name, func(t *testing.T) {
			dir := filepath.Join("..", "..", "..", "testdata", "blank-cards")
			file := filepath.Join(dir, name+".yaml")
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			l, err := sheetmodel.ParseLayout(file, text)
			require.NoError(t, err)
			f, err := os.Open(filepath.Join(dir, name+".png"))
			require.NoError(t, err)
			defer f.Close() //nolint:errcheck // only read
			img, _, err := image.Decode(f)
			require.NoError(t, err)
			grey := image.NewGray(img.Bounds())
			draw.Draw(grey, grey.Rect, img, img.Bounds().Min, draw.Src)
			m, err := matOf(grey)
			require.NoError(t, err)
			defer m.Close()
			side := l.Sides[0]
			side.Print, err = printedOn(m, &side)
			require.NoError(t, err)
			drawn := print.RasterBlank(&side, tracePxPerMM)

			fields, all, dark := 0, 0, 0
			for _, f := range side.Fields {
				if f.Row == 0 || f.Kind == sheetmodel.Printed || f.Kind == sheetmodel.Choice || f.Kind == sheetmodel.Tick {
					continue
				}
				boxes := []sheetmodel.Rect{f.Rect}
				if f.Kind == sheetmodel.Comb {
					boxes = nil
					for i := range f.Boxes {
						boxes = append(boxes, f.Rect.Box(i, f.Boxes))
					}
				}
				fields++
				for _, b := range boxes {
					in := b.Grow(-1.9) // the sheets lay a little askew in the copier
					for y := int(in.Y * tracePxPerMM); y < int((in.Y+in.H)*tracePxPerMM); y++ {
						for x := int(in.X * tracePxPerMM); x < int((in.X+in.W)*tracePxPerMM); x++ {
							all++
							if drawn.GrayAt(x, y).Y < 255 {
								dark++
							}
						}
					}
				}
			}
			assert.Greater(t, fields, 15)
			assert.Less(t, float64(dark)/float64(all), 0.002, "%d of %d px in the middle of %d fields", dark, all, fields)
		})
	}
}
