package crop_test

import (
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/crop"
	"gatefold/sheetmodel"
)

const pxPerMM = 8

// box lies in the middle of the page that paper returns.
var box = sheetmodel.Rect{X: 8, Y: 8, W: 8, H: 10}

// paper is a page of 24 x 26 mm in light grey, with the box's lines in darker grey if lines is set.
func paper(lines bool) *image.Gray {
	img := image.NewGray(image.Rect(0, 0, 24*pxPerMM, 26*pxPerMM))
	for i := range img.Pix {
		img.Pix[i] = 220
	}
	if lines {
		bar(img, box.X-0.125, box.Y, 0.25, box.H, 120)
		bar(img, box.X+box.W-0.125, box.Y, 0.25, box.H, 120)
		bar(img, box.X-4, box.Y-0.125, box.W+8, 0.25, 120)
		bar(img, box.X-4, box.Y+box.H-0.125, box.W+8, 0.25, 120)
	}
	return img
}

// bar darkens a rectangle in mm to grey.
func bar(img *image.Gray, x, y, w, h sheetmodel.MM, grey uint8) {
	for py := int(y * pxPerMM); py < int((y+h)*pxPerMM); py++ {
		for px := int(x * pxPerMM); px < int((x+w)*pxPerMM); px++ {
			img.Pix[img.PixOffset(px, py)] = grey
		}
	}
}

// one writes an upright bar of 0.5 x 5 mm into the box, dx off its middle.
func one(img *image.Gray, dx sheetmodel.MM) {
	c := box.Center()
	bar(img, c.X+dx-0.25, c.Y-2.5, 0.5, 5, 100)
}

func take(img *image.Gray) crop.Crop { return crop.Take(crop.FromGray(img, pxPerMM), box) }

func TestTake_BlankBoxWithLines_NoInk(t *testing.T) {
	c := take(paper(true))
	assert.Zero(t, c.Ink.AreaMM2)
	assert.Equal(t, [crop.GlyphSide * crop.GlyphSide]byte{}, c.Glyph)
}

func TestTake_LinesAndInk_GlyphHoldsTheInkAlone(t *testing.T) {
	for _, dx := range []sheetmodel.MM{0, -2.5, 2.5, 3.2} {
		with, without := paper(true), paper(false)
		one(with, dx)
		one(without, dx)
		a, b := take(with), take(without)
		assert.InDelta(t, 5, a.Ink.H, 0.4, "dx %v", dx)
		assert.InDelta(t, b.Ink.AreaMM2, a.Ink.AreaMM2, 0.35, "dx %v", dx)
		apart := 0
		for i := range a.Glyph {
			apart += max(int(a.Glyph[i])-int(b.Glyph[i]), int(b.Glyph[i])-int(a.Glyph[i]))
		}
		assert.Less(t, float64(apart)/float64(len(a.Glyph)), 3.0, "mean difference of grey, dx %v", dx)
	}
}

func TestTake_Glyph_FillsTwentyPixelsAboutItsMiddle(t *testing.T) {
	img := paper(true)
	one(img, 1.5)
	c := take(img)
	top, low := crop.GlyphSide, -1
	var sum, sumX, sumY float64
	for i, v := range c.Glyph {
		if v > 100 {
			top, low = min(top, i/crop.GlyphSide), max(low, i/crop.GlyphSide)
		}
		sum += float64(v)
		sumX += float64(v) * float64(i%crop.GlyphSide)
		sumY += float64(v) * float64(i/crop.GlyphSide)
	}
	require.Positive(t, sum)
	assert.InDelta(t, 20, low-top+1, 2)
	assert.InDelta(t, 13.5, sumX/sum, 0.6)
	assert.InDelta(t, 13.5, sumY/sum, 0.6)
}

func TestTake_NeighboursInk_IsLeftOut(t *testing.T) {
	img := paper(true)
	one(img, 0)
	alone := take(img)
	bar(img, box.X-2.2, box.Y+2, 1.2, 5, 100)
	bar(img, box.X+box.W+0.9, box.Y+2, 1.0, 5, 100)
	got := take(img)
	assert.InDelta(t, alone.Ink.AreaMM2, got.Ink.AreaMM2, 0.1)
	assert.Equal(t, alone.Glyph, got.Glyph)
}

func TestTake_DimmedPage_SameViews(t *testing.T) {
	img, dim := paper(true), paper(true)
	one(img, 0)
	one(dim, 0)
	for i, v := range dim.Pix {
		dim.Pix[i] = uint8(float64(v)*0.7 + 0.5)
	}
	a, b := take(img), take(dim)
	for i := range a.Cell {
		assert.InDelta(t, a.Cell[i], b.Cell[i], 4)
	}
	for i := range a.Glyph {
		assert.InDelta(t, a.Glyph[i], b.Glyph[i], 8)
	}
}

func TestTake_PartOfAPage_SameAsTheWhole(t *testing.T) {
	img := paper(true)
	one(img, 0.7)
	part := img.SubImage(image.Rect(10, 12, 190, 205)).(*image.Gray)
	assert.Equal(t, take(img), crop.Take(crop.FromGray(part, pxPerMM), box))
}

func TestTake_ResolutionOfThePage_SameDigit(t *testing.T) {
	img := paper(true)
	one(img, 0)
	half := image.NewGray(image.Rect(0, 0, img.Rect.Dx()/2, img.Rect.Dy()/2))
	for y := range half.Rect.Dy() {
		for x := range half.Rect.Dx() {
			sum := 0
			for _, o := range []int{0, 1, img.Stride, img.Stride + 1} {
				sum += int(img.Pix[img.PixOffset(2*x, 2*y)+o])
			}
			half.Pix[half.PixOffset(x, y)] = uint8((sum + 2) / 4)
		}
	}
	a, b := take(img), crop.Take(crop.FromGray(half, pxPerMM/2), box)
	assert.InDelta(t, a.Ink.H, b.Ink.H, 0.5)
	for i := range a.Cell {
		assert.InDelta(t, a.Cell[i], b.Cell[i], 3)
	}
}

func TestTake_BlackWhiteAndEdgeOfPage_NoPanic(t *testing.T) {
	for _, grey := range []uint8{0, 255} {
		img := image.NewGray(image.Rect(0, 0, 200, 200))
		for i := range img.Pix {
			img.Pix[i] = grey
		}
		for _, r := range []sheetmodel.Rect{{X: -5, Y: -5, W: 8, H: 10}, {X: 22, Y: 22, W: 8, H: 10}, {X: 100, Y: 100, W: 8, H: 10}, {X: 5, Y: 5}} {
			c := crop.Take(crop.FromGray(img, pxPerMM), r)
			assert.Zero(t, c.Ink.AreaMM2)
		}
	}
}

func TestTone_RisesWithDarkness(t *testing.T) {
	last := -1
	for d := float32(-0.2); d <= 1; d += 0.02 {
		v := int(crop.Tone(d))
		assert.GreaterOrEqual(t, v, last)
		last = v
	}
	assert.Equal(t, byte(32), crop.Tone(0))
	assert.Greater(t, last, 240)
}
