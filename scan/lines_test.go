package scan

import (
	"image"
	"image/color"
	"image/draw"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// Where two lines cross, the one that lies right makes the patch fit well, whatever stands in the other's place: bare paper, or the
// edge of a shadow. A line that such an edge follows is there all the same. Source: the pictures themselves.
func TestShown_LineDownThatIsNotThere_IsNotShown(t *testing.T) {
	const size, middle = 60, 30 // px, 5 a mm
	crossed := image.NewGray(image.Rect(0, 0, size, size))
	fill := func(img *image.Gray, x0, y0, x1, y1 int, grey uint8) {
		draw.Draw(img, image.Rect(x0, y0, x1, y1), image.NewUniform(color.Gray{Y: grey}), image.Point{}, draw.Src)
	}
	fill(crossed, 0, 0, size, size, 255)
	fill(crossed, 0, middle, size, middle+2, 0)
	fill(crossed, middle, 0, middle+1, size, 0)
	b := newBlank(crossed, nil)
	p, _, ok := makePatch(b, sheetmodel.SheetPoint{X: 6, Y: 6}, nil)
	require.True(t, ok)
	require.True(t, p.twoWays())
	p.lines = linesOf(b, &p)
	require.NotEmpty(t, p.lines[0].points)
	require.NotEmpty(t, p.lines[1].points)

	for _, o := range []struct {
		name         string
		shade        int // px from the left, of which paper is in the light
		line, shadow bool
		shown        bool
	}{
		{"as printed", 0, true, false, true},
		{"in a shadow", 0, true, true, true},
		{"along a shadow's edge", middle + 1, true, true, true},
		{"bare paper", 0, false, false, false},
		{"a shadow's edge", middle, false, true, false},
		{"a shadow's edge beside it", middle + 1, false, true, false},
	} {
		t.Run(o.name, func(t *testing.T) {
			photo := image.NewGray(crossed.Rect)
			for y := range size {
				for x := range size {
					ink := 0.0
					if y == middle || y == middle+1 || o.line && x == middle {
						ink = 1
					}
					light := 180.0
					if o.shadow && x >= o.shade {
						light = 110
					}
					photo.SetGray(x, y, color.Gray{Y: uint8(light * (1 - 0.6*ink))})
				}
			}
			v := &view{pix: photo.Pix, w: size, h: size, sx: 1, sy: 1}
			at := &tangent{x0: middle, xu: 5, y0: middle, yv: 5}
			_, _, _, score, ok := seekFine(v, at, p.fine, [3]float64{1e9, 0, 1e9}, 0, 0)
			require.True(t, ok)
			got := p.shown(v, at, 0, 0)
			assert.Greater(t, score, minScore, "the patch counts as found")
			assert.Equal(t, o.shown, got >= lineShown, "%.2f shown, score %.2f", got, score)
		})
	}
}
