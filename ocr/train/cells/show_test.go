package cells

import (
	"flag"
	"image"
	"image/png"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"gatefold/ocr/crop"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/testdata/split"
)

// show names a folder for contact sheets: go test -run Show -show /some/folder.
var show = flag.String("show", "", "folder for contact sheets to look at")

// testSource holds a few calibration digits.
func testSource(t testing.TB, n int) *Source {
	t.Helper()
	dir, err := hand.FindMNIST(t.Context())
	require.NoError(t, err)
	m, err := hand.ReadMNIST(dir)
	require.NoError(t, err)
	return NewSource(m.Train, split.Calibration()[:n], nil)
}

// contactSheet lays samples out in rows of 20, the cell above its glyph.
func contactSheet(samples []Sample) *image.Gray {
	const cols = 20
	rows := (len(samples) + cols - 1) / cols
	img := image.NewGray(image.Rect(0, 0, cols*44, rows*84))
	for i, s := range samples {
		x0, y0 := i%cols*44, i/cols*84
		for y := range crop.CellH {
			copy(img.Pix[(y0+y)*img.Stride+x0:], s.Cell[y*crop.CellW:(y+1)*crop.CellW])
		}
		for y := range crop.GlyphSide {
			copy(img.Pix[(y0+50+y)*img.Stride+x0+6:], s.Glyph[y*crop.GlyphSide:(y+1)*crop.GlyphSide])
		}
	}
	return img
}

func TestShowSamples(t *testing.T) {
	if *show == "" {
		t.Skip("no -show folder given")
	}
	src := testSource(t, 600)
	rng := rand.New(rand.NewPCG(5, 5))
	sheets := map[string]func() Sample{
		"ordinary": func() Sample { return src.Digit(split.Calibration()[rng.IntN(600)], Ordinary, rng) },
		"hard":     func() Sample { return src.Digit(split.Calibration()[rng.IntN(600)], Hard, rng) },
		"mixed":    func() Sample { return src.Mixed(1, rng)[0] },
		"blank":    func() Sample { return src.blank(levels[Hard], rng).taken() },
		"other":    func() Sample { return src.other(levels[Ordinary], rng).taken() },
		"original": func() Sample { return Original(src.byID[split.Calibration()[rng.IntN(600)]].glyph) },
	}
	for name, draw := range sheets {
		samples := make([]Sample, 200)
		for i := range samples {
			samples[i] = draw()
		}
		f, err := os.Create(*show + "/" + name + ".png")
		require.NoError(t, err)
		require.NoError(t, png.Encode(f, contactSheet(samples)))
		require.NoError(t, f.Close())
	}
}

func TestShowCards(t *testing.T) {
	if *show == "" {
		t.Skip("no -show folder given")
	}
	src := testSource(t, 600)
	cards, err := NewCards()
	require.NoError(t, err)
	for _, name := range []string{camera.Ordinary, camera.Hard} {
		rng := rand.New(rand.NewPCG(5, 6))
		var samples []Sample
		start := time.Now()
		for len(samples) < 200 {
			row, err := src.Comb(cards, camera.Levels()[name], func() int { return -1 }, false, rng)
			require.NoError(t, err)
			samples = append(samples, row...)
		}
		t.Logf("%s: %v a box", name, time.Since(start)/time.Duration(len(samples)))
		f, err := os.Create(*show + "/card-" + name + ".png")
		require.NoError(t, err)
		require.NoError(t, png.Encode(f, contactSheet(samples)))
		require.NoError(t, f.Close())
	}
}

func BenchmarkMixed(b *testing.B) {
	src := testSource(b, 100)
	rng := rand.New(rand.NewPCG(5, 5))
	for b.Loop() {
		src.Mixed(3, rng)
	}
}

func BenchmarkTake(b *testing.B) {
	src := testSource(b, 20)
	rng := rand.New(rand.NewPCG(5, 5))
	sc := newScene(src, levels[Ordinary], rng)
	sc.write(src.any(rng).strokes, false)
	sc.lay(sc.ink, 1)
	page := photograph(sc.paper, sc.box, levels[Ordinary], rng)
	for b.Loop() {
		crop.Take(page, sc.box)
	}
}

// TestShowLostGlyphs shows digits whose glyph came out empty or cut.
func TestShowLostGlyphs(t *testing.T) {
	if *show == "" {
		t.Skip("no -show folder given")
	}
	src := testSource(t, 600)
	rng := rand.New(rand.NewPCG(6, 5))
	for _, level := range []Level{Ordinary, Hard} {
		var lost []Sample
		n := 0
		for ; n < 4000 && len(lost) < 200; n++ {
			s := src.Digit(split.Calibration()[rng.IntN(600)], level, rng)
			if s.Ink.H < 2.6 || s.Ink.AreaMM2 < 1.0 || s.Ink.OutMM2 > 0.25*s.Ink.AreaMM2 {
				lost = append(lost, s)
			}
		}
		t.Logf("%s: %d of %d", level, len(lost), n)
		f, err := os.Create(*show + "/lost-" + string(level) + ".png")
		require.NoError(t, err)
		require.NoError(t, png.Encode(f, contactSheet(lost)))
		require.NoError(t, f.Close())
	}
}
