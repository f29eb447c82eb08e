package print_test

import (
	"image"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// Our front as a faint, grainy copy shows it, on paper shaded along one side: print is found where print is, and paper
// is paper. Our own logic.
func TestTrace_GrainyGreyPaper_IsPaper(t *testing.T) {
	const pxPerMM = 6
	side := *sheetmodel.BuiltinLayouts()[0].Side(sheetmodel.Front)
	clean := print.RasterBlank(&side, pxPerMM)
	rng := rand.New(rand.NewPCG(5, 9))
	grainy := image.NewGray(clean.Rect)
	w, h := clean.Rect.Dx(), clean.Rect.Dy()
	for y := range h {
		for x := range w {
			paper := 228 + rng.NormFloat64()*11 - 14*float64(x)/float64(w)
			grainy.Pix[y*w+x] = uint8(min(max(paper*float64(clean.Pix[y*clean.Stride+x])/255, 0), 255))
		}
	}
	traced := sheetmodel.Side{Name: side.Name, W: side.W, H: side.H, Print: print.Trace(grainy, pxPerMM)}
	got := print.RasterBlank(&traced, pxPerMM)
	black, lost, paper, grain := 0, 0, 0, 0
	for y := 2; y < h-2; y++ {
		for x := 2; x < w-2; x++ {
			least, most := uint8(255), uint8(0)
			for v := y - 2; v <= y+2; v++ {
				for u := x - 2; u <= x+2; u++ {
					least, most = min(least, clean.Pix[v*clean.Stride+u]), max(most, clean.Pix[v*clean.Stride+u])
				}
			}
			switch g := got.Pix[y*got.Stride+x]; {
			case clean.Pix[y*clean.Stride+x] < 64:
				if black++; g > 128 {
					lost++
				}
			case least == 255:
				if paper++; g < 255 {
					grain++
				}
			}
		}
	}
	assert.Greater(t, black, 10000)
	assert.Greater(t, paper, 100000)
	assert.Zero(t, lost, "of %d px of print", black)
	assert.Less(t, float64(grain)/float64(paper), 0.001, "of %d px of paper", paper)
}
