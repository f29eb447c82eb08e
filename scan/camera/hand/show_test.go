package hand

import (
	"context"
	"flag"
	"image"
	"image/png"
	"math/rand/v2"
	"os"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// show names a folder for contact sheets: go test -run Show -show /some/folder.
var show = flag.String("show", "", "folder for contact sheets to look at")

// readOnce reads MNIST for all tests; they only read it.
var readOnce = sync.OnceValues(func() (*MNIST, error) {
	dir, err := FindMNIST(context.Background())
	if err != nil {
		return nil, err
	}
	return ReadMNIST(dir)
})

func mnist(t testing.TB) *MNIST {
	t.Helper()
	m, err := readOnce()
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

func TestShowMarks(t *testing.T) {
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
	rng := rand.New(rand.NewPCG(3, 2))
	pens := Pens{PencilDarker: [2]float64{0.3, 0.6}, BallpointDarker: [2]float64{0.5, 0.8}, BallpointShare: 0.2}
	w := DrawWriter(pens, rng)
	box := func(i, j, n int) sheetmodel.Rect {
		return sheetmodel.Rect{X: sheetmodel.MM(i * 8), Y: sheetmodel.MM(j * 10), W: sheetmodel.MM(8 * n), H: 10}.Grow(-1)
	}
	for i, k := range MarkKinds() {
		for j := range 3 {
			w.Mark(ink, k, box(i, j, 1), rng)
		}
		w = DrawWriter(pens, rng)
	}
	text := []rune("ABCDEFGHVKL?-MNOabcdefghijklmnopqrstuvwxyzPQRSTU")
	for i, r := range text {
		w.Letter(ink, r, box(i%16, 3+i/16, 1), rng)
	}
	for i := range 4 {
		w = DrawWriter(pens, rng)
		w.Mark(ink, GateSketch, box(i*4, 6, 4).Union(box(i*4, 7, 4)), rng)
		w.Mark(ink, Signature, box(i*4, 8, 4), rng)
		w.Word(ink, "Arve Tinholt", box(i*4, 9, 4), rng)
		w.Overwrite(ink, Trace(&m.Train[i]), Trace(&m.Train[i+9]), box(i*4, 10, 1), rng)
		w.RubbedOut(ink, Trace(&m.Train[i]), box(i*4+1, 10, 1), rng)
		w.Number(ink, []Strokes{Trace(&m.Train[i+30]), Trace(&m.Train[i+40])}, box(i*4+2, 10, 2), 0, rng)
		w.Number(ink, []Strokes{Trace(&m.Train[i+50]), Trace(&m.Train[i+60])}, box(i*4, 11, 4), i-1, rng)
		w.Mark(ink, Ring, sheetmodel.Rect{X: sheetmodel.MM(i*32 + 18), Y: 113, W: 10, H: 4}, rng)
		w.StrikeRow(ink, box(i*4, 11, 4), rng)
	}
	ink.Over(page)
	savePNG(t, "marks.png", page)
}
