package ocr_test

import (
	"encoding/json"
	"image"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/ocr"
	"gatefold/ocr/calib"
	"gatefold/ocr/weights"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
	"gatefold/testdata/split"
)

const pagePxPerMM = 8

// layout is the card of an invented race.
var layout = sync.OnceValue(func() *sheetmodel.Layout {
	l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{
		Groups: []string{"U12 f", "U12 m"}, Courses: []string{"red", "blue"}, SecondWriting: true,
	})
	if err != nil {
		panic(err) // the layout is embedded
	}
	return l
})

var mnist = sync.OnceValues(func() (*hand.MNIST, error) {
	folder, err := hand.FindMNIST(context())
	if err != nil {
		return nil, err
	}
	return hand.ReadMNIST(folder)
})

// writer is one hand: the first digits of each kind from a place in the list on.
type writer struct {
	m    *hand.MNIST
	from int
}

// Digit returns a glyph of d and its index.
func (w writer) Digit(d int, rng *rand.Rand) (hand.Strokes, int) {
	list := split.Calibration()
	for i := w.from + rng.IntN(200); ; i++ {
		index := list[i%len(list)]
		if g := &w.m.Train[index]; int(g.Label) == d {
			return hand.Trace(g), index
		}
	}
}

// filled draws one side as an even, sharp photo would show it, 8-bit grey. The caller closes it.
func filled(t testing.TB, name sheetmodel.SideName, plan fill.Plan, seed uint64, after func(*hand.Ink, *hand.Writer, *rand.Rand)) gocv.Mat {
	return matOf(t, drawn(t, name, camera.Levels()["ordinary"].Pens(), plan, seed, after))
}

// drawn is filled with any pen.
func drawn(t testing.TB, name sheetmodel.SideName, pens hand.Pens, plan fill.Plan, seed uint64, after func(*hand.Ink, *hand.Writer, *rand.Rand)) *image.Gray {
	m, err := mnist()
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(seed, 1))
	side := layout().Side(name)
	pen := hand.DrawWriter(pens, rng)
	const inkPxPerMM = 16
	paper, err := print.Raster(side, print.CardPrint{
		Race: "Dachs Cup", Course: "red", Identity: sheetmodel.Identity{
			Run: 1, Course: 1, Card: 3, Side: name, Race: sheetmodel.RaceHash("dachs"), Layout: layout().HashStart(),
		},
	}, inkPxPerMM)
	require.NoError(t, err)
	ink := hand.NewInk(sheetmodel.Rect{W: side.W, H: side.H}, inkPxPerMM)
	fill.Side(ink, side, plan, fill.Writer{Pen: pen, Digits: writer{m, int(seed) * 100}}, rng)
	if after != nil {
		after(ink, pen, rng)
	}
	ink.Over(paper)
	shot := camera.Flat(side.W, side.H, 10)
	patch, err := shot.View().TakePatch(camera.Sheet{Image: paper, PxPerMM: inkPxPerMM}, sheetmodel.Rect{W: side.W, H: side.H})
	require.NoError(t, err)
	return patch.Straighten(sheetmodel.Rect{W: side.W, H: side.H}, pagePxPerMM, nil)
}

func matOf(t testing.TB, img *image.Gray) gocv.Mat {
	m, err := gocv.NewMatFromBytes(img.Rect.Dy(), img.Rect.Dx(), gocv.MatTypeCV8U, img.Pix)
	require.NoError(t, err)
	return m
}

// open returns a reader whose texts are clear from a score of 1 on: these tests are about ink, not about
// where the frozen thresholds lie.
func open(t testing.TB) *ocr.Reader {
	r, err := ocr.Open(ocr.Options{Curves: everyScore(t)})
	require.NoError(t, err)
	return r
}

// everyScore are curves by which a score of 1, of a mark any, is enough.
func everyScore(t testing.TB) *calib.Set {
	file := calib.File{Format: 1, Weights: weights.Combs(), Kinds: map[calib.Kind]calib.Judgement{}}
	for _, k := range calib.Kinds {
		file.Kinds[k] = calib.Judgement{
			Curve: calib.Curve{Score: []float64{0, 3}, Log10Wrong: []float64{-1, -3}}, Threshold: calib.Threshold{Score: 1},
		}
	}
	for _, k := range []calib.Kind{calib.Tick, calib.Ring} {
		j := file.Kinds[k]
		j.Threshold.Score = 0
		file.Kinds[k] = j
	}
	b, err := json.Marshal(file)
	require.NoError(t, err)
	curves, err := calib.Parse(b, weights.Combs())
	require.NoError(t, err)
	return curves
}
