package hand

import (
	"flag"
	"image"
	"image/png"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// show names a folder for contact sheets: go test -run Show -show /some/folder.
var show = flag.String("show", "", "folder for contact sheets to look at")

func mnist(t testing.TB) *MNIST {
	t.Helper()
	dir, err := FindMNIST(t.Context())
	require.NoError(t, err)
	m, err := ReadMNIST(dir)
	require.NoError(t, err)
	return m
}

func savePNG(t *testing.T, name string, img image.Image) {
	t.Helper()
	f, err := os.Create(*show + "/" + name)
	require.NoError(t, err)
	require.NoError(t, png.Encode(f, img))
	require.NoError(t, f.Close())
}

func TestShowDigits(t *testing.T) {
	if *show == "" {
		t.Skip("no -show folder given")
	}
	m := mnist(t)
	const cols, rows, pxPerMM = 16, 12, 20.0
	page := image.NewGray(image.Rect(0, 0, cols*160, rows*200))
	for i := range page.Pix {
		page.Pix[i] = 235
	}
	ink := NewInk(sheetmodel.Rect{W: cols * 8, H: rows * 10}, pxPerMM)
	rng := rand.New(rand.NewPCG(1, 2))
	var w *Writer
	for i := range cols * rows {
		if i%cols == 0 {
			w = DrawWriter(Pens{PencilDarker: [2]float64{0.2, 0.6}, BallpointDarker: [2]float64{0.5, 0.8}, BallpointShare: 0.2}, rng)
			t.Logf("row %d: %+v", i/cols, *w)
		}
		g := m.Train[5000+i/2*7]
		box := sheetmodel.Rect{X: sheetmodel.MM(i % cols * 8), Y: sheetmodel.MM(i / cols * 10), W: 8, H: 10}
		if i%2 == 0 {
			for y := range 140 {
				for x := range 140 {
					page.Pix[page.PixOffset(i%cols*160+10+x, i/cols*200+20+y)] = 235 - g.Pix[y/5*28+x/5]*9/10
				}
			}
			continue
		}
		w.Digit(ink, Trace(&g), box, rng)
	}
	ink.Over(page)
	savePNG(t, "digits.png", page)
}
