package hand

import (
	"image"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// TestDraw_MiddleOfStroke_IsAsDarkAsTheWriterPresses measures a pencil line without skips.
func TestDraw_MiddleOfStroke_IsAsDarkAsTheWriterPresses(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	sum, n := 0.0, 0.0
	for range 120 {
		w := DrawWriter(testPens, rng)
		w.Skips = 0
		k := NewInk(sheetmodel.Rect{W: 30, H: 6}, 20)
		y := 2 + 2*rng.Float64()
		w.draw(k, []Line{{Points: []Point{{X: 2, Y: y, W: w.WidthMM}, {X: 28, Y: y, W: w.WidthMM}}}}, w.Darker, rng)
		dark, px := 0.0, 0.0
		for x := 60; x < 540; x++ {
			for r := -1; r <= 1; r++ { // 0.15 mm: the middle half of the thinnest pen
				dark += 1 - float64(k.Factor[(int(y*20)+r)*k.W+x])/255
				px++
			}
		}
		got := dark / px
		assert.InEpsilonf(t, w.Darker, got, 0.25, "%+v", *w)
		sum, n = sum+got/w.Darker, n+1
	}
	t.Logf("drawn over asked darkness: %.3f on average", sum/n)
	assert.InDelta(t, 1, sum/n, 0.06)
}

func TestDrawWriter_Spans_AreKept(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 1))
	ball := 0
	for range 1000 {
		w := DrawWriter(testPens, rng)
		span := testPens.PencilDarker
		if w.Pen == Ballpoint {
			ball++
			span = testPens.BallpointDarker
		}
		assert.True(t, w.Darker >= span[0] && w.Darker <= span[1])
		assert.True(t, w.HeightMM >= 3.5 && w.HeightMM <= 6)
		assert.True(t, w.WidthMM >= 0.35 && w.WidthMM <= 0.8)
	}
	assert.InDelta(t, 250, ball, 60)
}

func TestDigit_Height_IsTheWriters(t *testing.T) {
	m := mnist(t)
	rng := rand.New(rand.NewPCG(5, 1))
	box := sheetmodel.Rect{X: 4, Y: 4, W: 8, H: 10}
	over, total := 0, 0
	for i := range 400 {
		w := DrawWriter(testPens, rng)
		k := NewInk(sheetmodel.Rect{W: 16, H: 18}, 20)
		g := Trace(&m.Train[i*11])
		r := w.Digit(k, g, box, rng)
		assert.InDelta(t, w.HeightMM, float64(r.H), 0.30*w.HeightMM+0.3, "digit %d", i*11)
		total++
		if r.X < box.X || r.Y < box.Y || r.X+r.W > box.X+box.W || r.Y+r.H > box.Y+box.H {
			over++
		}
		inside := k.Covered(r, 0.05)
		assert.InDelta(t, k.Covered(sheetmodel.Rect{W: 16, H: 18}, 0.05), inside, 0.3, "the returned rectangle holds the ink")
	}
	t.Logf("over the edge of an 8 x 10 mm box: %d of %d", over, total)
	assert.Positive(t, over)
	assert.Less(t, over, total/3)
}

func TestDigit_SameSeed_SameInk(t *testing.T) {
	m := mnist(t)
	draw := func(seed uint64) []uint8 {
		rng := rand.New(rand.NewPCG(seed, 1))
		k := NewInk(sheetmodel.Rect{W: 10, H: 10}, 20)
		DrawWriter(testPens, rng).Digit(k, Trace(&m.Train[3]), sheetmodel.Rect{W: 10, H: 10}, rng)
		return k.Factor
	}
	first := draw(1)
	assert.Equal(t, first, draw(1))
	assert.NotEqual(t, first, draw(2))
}

func TestShapes_Notation_IsNumbersAndKnownKinds(t *testing.T) {
	for r, ways := range shapes {
		for _, way := range ways {
			for stroke := range strings.SplitSeq(way, ";") {
				f := strings.Fields(stroke)
				require.Contains(t, []string{"c", "l"}, f[0], string(r))
				require.GreaterOrEqual(t, len(f), 3, string(r))
				for _, p := range f[1:] {
					xs, ys, ok := strings.Cut(p, ",")
					require.True(t, ok, p)
					x, err := strconv.ParseFloat(xs, 64)
					require.NoError(t, err, p)
					y, err := strconv.ParseFloat(ys, 64)
					require.NoError(t, err, p)
					assert.True(t, x >= -0.1 && x <= 1 && y >= -0.1 && y <= 1.4, "%c: %s", r, p)
				}
			}
		}
	}
	for _, r := range "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-?" {
		_, ok := Letter(r, rand.New(rand.NewPCG(1, 1)))
		assert.True(t, ok, string(r))
	}
}

func TestMark_EachKind_LeavesInkAboutItsBox(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	box := sheetmodel.Rect{X: 20, Y: 20, W: 30, H: 20}
	for _, kind := range MarkKinds() {
		for range 20 {
			k := NewInk(sheetmodel.Rect{W: 70, H: 60}, 20)
			w := DrawWriter(testPens, rng)
			r := w.Mark(k, kind, box, rng)
			assert.Positive(t, k.Covered(box.Grow(8), 0.05), kind)
			assert.True(t, r.Overlaps(box) || kind == Stray || kind == Dots, kind)
			assert.InDelta(t, k.Covered(sheetmodel.Rect{W: 70, H: 60}, 0.02), k.Covered(r.Grow(0.2), 0.02), 0.01, kind)
		}
	}
	assert.Zero(t, DrawWriter(testPens, rng).Mark(NewInk(box, 20), "no such mark", box, rng).W)
}

func TestRubbedOut_Pencil_LeavesATrace(t *testing.T) {
	m := mnist(t)
	rng := rand.New(rand.NewPCG(2, 6))
	box := sheetmodel.Rect{X: 2, Y: 2, W: 8, H: 10}
	for range 30 {
		w := DrawWriter(Pens{PencilDarker: [2]float64{0.25, 0.6}}, rng)
		k := NewInk(sheetmodel.Rect{W: 12, H: 14}, 20)
		w.RubbedOut(k, Trace(&m.Train[5]), box, rng)
		darkest := k.Darkest(sheetmodel.Rect{W: 12, H: 14})
		assert.Less(t, darkest, 0.99)
		assert.Greater(t, darkest, 1-0.75*w.Darker, "paler than the writing was")
	}
}

func TestInk_OverAPartOfAPage_IsTheWholeCut(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 7))
	k := NewInk(sheetmodel.Rect{X: 3, Y: 4, W: 20, H: 20}, 20)
	DrawWriter(testPens, rng).Word(k, "Hanne", sheetmodel.Rect{X: 3, Y: 6, W: 20, H: 10}, rng)
	white := func(r image.Rectangle) *image.Gray {
		g := image.NewGray(r)
		for i := range g.Pix {
			g.Pix[i] = 240
		}
		return g
	}
	page, part := white(image.Rect(0, 0, 600, 600)), white(image.Rect(100, 150, 300, 300))
	k.Over(page)
	k.Over(part)
	darker := 0
	for y := 150; y < 300; y++ {
		for x := 100; x < 300; x++ {
			require.Equal(t, page.GrayAt(x, y), part.GrayAt(x, y))
			darker += btoi(page.GrayAt(x, y).Y < 230)
		}
	}
	assert.Positive(t, darker)
}

func TestNumber_Digits_StandSideBySideInTheCell(t *testing.T) {
	m := mnist(t)
	rng := rand.New(rand.NewPCG(2, 8))
	cell := sheetmodel.Rect{X: 5, Y: 5, W: 24, H: 9}
	for i := range 60 {
		k := NewInk(sheetmodel.Rect{W: 40, H: 20}, 20)
		at := DrawWriter(testPens, rng).Number(k, []Strokes{Trace(&m.Train[i]), Trace(&m.Train[i+100]), Trace(&m.Train[i+200])}, cell, i%3-1, rng)
		require.Len(t, at, 3)
		for j := range at {
			c := at[j].Center()
			assert.True(t, cell.Grow(1).Contains(c))
			if j > 0 {
				assert.Greater(t, float64(c.X), float64(at[j-1].Center().X))
			}
			assert.False(t, math.IsNaN(float64(c.X)))
		}
	}
}
