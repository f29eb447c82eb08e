package scan_test

import (
	"image"
	"image/draw"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/scan"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

const flatPxPerMM = 7

// flatCard draws a card as a scanner would see it, with a margin of grey table.
func flatCard(t testing.TB, l *sheetmodel.Layout, name sheetmodel.SideName, card int) *image.Gray {
	t.Helper()
	side := l.Side(name)
	id := sheetmodel.Identity{Run: 1, Course: 1, Card: card, Side: name, Race: "12ab", Layout: l.HashStart()}
	page, err := print.Raster(side, print.CardPrint{Race: "Dachs Cup", Course: "red", Identity: id}, flatPxPerMM)
	require.NoError(t, err)
	const margin = 60
	img := image.NewGray(image.Rect(0, 0, page.Rect.Dx()+2*margin, page.Rect.Dy()+2*margin))
	fillGrey(img, img.Rect, 120)
	draw.Draw(img, page.Rect.Add(image.Pt(margin, margin)), page, image.Point{}, draw.Src)
	return img
}

// onFlat returns where flatCard shows a point of the sheet.
func onFlat(p sheetmodel.SheetPoint) sheetmodel.PhotoPoint {
	q := sheetmodel.PageFromSheet(p, flatPxPerMM)
	return sheetmodel.PhotoPoint{X: q.X + 60, Y: q.Y + 60}
}

func fillGrey(img *image.Gray, r image.Rectangle, g uint8) {
	draw.Draw(img, r, &image.Uniform{C: image.NewGray(image.Rect(0, 0, 1, 1)).ColorModel().Convert(greyLevel(g))}, image.Point{}, draw.Src)
}

// cover paints a rectangle of the sheet.
func cover(img *image.Gray, r sheetmodel.Rect, g uint8) {
	a, b := onFlat(sheetmodel.SheetPoint{X: r.X, Y: r.Y}), onFlat(sheetmodel.SheetPoint{X: r.X + r.W, Y: r.Y + r.H})
	fillGrey(img, image.Rect(int(a.X), int(a.Y), int(b.X)+1, int(b.Y)+1), g)
}

type greyLevel uint8

// RGBA makes a grey level a colour.
func (g greyLevel) RGBA() (r, gg, b, a uint32) {
	v := uint32(g) * 0x101
	return v, v, v, 0xFFFF
}

func pagesOf(t testing.TB, img *image.Gray, forms *scan.Forms) ([]*scan.Page, error) {
	t.Helper()
	m, err := gocv.NewMatFromBytes(img.Rect.Dy(), img.Rect.Dx(), gocv.MatTypeCV8U, img.Pix)
	require.NoError(t, err)
	before := append([]byte(nil), img.Pix...)
	pages, err := scan.Pages(m, forms, scan.Options{})
	assert.Equal(t, before, m.ToBytes(), "the photo stays unchanged")
	require.NoError(t, m.Close())
	t.Cleanup(func() {
		for _, p := range pages {
			assert.NoError(t, p.Close())
		}
	})
	return pages, err
}

func layoutsOf(t testing.TB, paper string) (race, spare *sheetmodel.Layout) {
	t.Helper()
	for _, l := range sheetmodel.BuiltinLayouts() {
		switch {
		case l.Paper == paper && l.Spare:
			spare = l
		case l.Paper == paper:
			race = l
		}
	}
	return race, spare
}

func formsOf(t testing.TB, layouts ...*sheetmodel.Layout) *scan.Forms {
	t.Helper()
	forms, err := scan.Prepare(layouts...)
	require.NoError(t, err)
	return forms
}

// worstMiss returns the largest distance, in mm, of a field corner from where truth shows it.
func worstMiss(p *scan.Page, truth func(sheetmodel.SheetPoint) sheetmodel.PhotoPoint) float64 {
	worst := 0.0
	for _, f := range p.Side.Fields {
		for _, c := range []sheetmodel.SheetPoint{{X: f.Rect.X, Y: f.Rect.Y}, {X: f.Rect.X + f.Rect.W, Y: f.Rect.Y + f.Rect.H}} {
			a, b := p.PhotoFromSheet(c), truth(c)
			worst = max(worst, math.Hypot(a.X-b.X, a.Y-b.Y)/flatPxPerMM)
		}
	}
	return worst
}

func TestPages_FlatCards_AreNamedAndInPlace(t *testing.T) {
	forms := formsOf(t, sheetmodel.BuiltinLayouts()...)
	for _, l := range sheetmodel.BuiltinLayouts() {
		for _, name := range []sheetmodel.SideName{sheetmodel.Front, sheetmodel.Back} {
			pages, err := pagesOf(t, flatCard(t, l, name, 17), forms)
			require.NoError(t, err)
			require.Len(t, pages, 1)
			p := pages[0]
			require.NotNil(t, p.Identity)
			assert.Equal(t, sheetmodel.Identity{Run: 1, Course: 1, Card: 17, Side: name, Race: "12ab", Layout: l.HashStart()}, *p.Identity)
			assert.Equal(t, l.Hash(), p.Layout.Hash())
			assert.Equal(t, name, p.Side.Name)
			assert.Less(t, worstMiss(p, onFlat), 0.2, "mm; no source: a fifth of the target on a picture without any fault")
			assert.Equal(t, 6, p.Quality.Marks)
			assert.Greater(t, p.Quality.Blown, 0.5, "drawn on pure white")
			assert.Empty(t, p.Quality.Outside)
			assert.Empty(t, p.Quality.Hidden)
			assert.Equal(t, []int{int(math.Ceil(float64(p.Side.W) * 8)), int(math.Ceil(float64(p.Side.H) * 8))}, []int{p.Mat.Cols(), p.Mat.Rows()})
			grid := p.Grid()
			assert.InDelta(t, grid[0].Photo.X, p.Corners()[0].X, 1e-9)
			assert.InDelta(t, grid[len(grid)-1].Photo.Y, p.Corners()[2].Y, 1e-9)
		}
	}
}

func TestPages_TurnedPhoto_GivesTheSamePage(t *testing.T) {
	race, _ := layoutsOf(t, "a5")
	forms := formsOf(t, race)
	img := flatCard(t, race, sheetmodel.Front, 3)
	upright, err := pagesOf(t, img, forms)
	require.NoError(t, err)
	w, h := img.Rect.Dx(), img.Rect.Dy()
	turned := image.NewGray(img.Rect)
	for y := range h {
		for x := range w {
			turned.Pix[(h-1-y)*turned.Stride+w-1-x] = img.Pix[y*img.Stride+x]
		}
	}
	pages, err := pagesOf(t, turned, forms)
	require.NoError(t, err)
	require.Len(t, pages, 1)
	miss := worstMiss(pages[0], func(s sheetmodel.SheetPoint) sheetmodel.PhotoPoint {
		p := onFlat(s)
		return sheetmodel.PhotoPoint{X: float64(w-1) - p.X, Y: float64(h-1) - p.Y}
	})
	assert.Less(t, miss, 0.1)
	a, b := upright[0].Mat.ToBytes(), pages[0].Mat.ToBytes()
	require.Len(t, b, len(a))
	diff := 0.0
	for i := range a {
		diff += math.Abs(float64(a[i])-float64(b[i])) / float64(len(a))
	}
	assert.Less(t, diff, 1.0, "grey levels")
}

func TestPages_Mirrored_IsRefused(t *testing.T) {
	race, _ := layoutsOf(t, "a5")
	img := flatCard(t, race, sheetmodel.Front, 3)
	mirrored := image.NewGray(img.Rect)
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			mirrored.Pix[y*img.Stride+img.Rect.Dx()-1-x] = img.Pix[y*img.Stride+x]
		}
	}
	pages, err := pagesOf(t, mirrored, formsOf(t, race))
	assert.Empty(t, pages)
	var refusal *scan.RefusedError
	assert.ErrorAs(t, err, &refusal)
}

func TestPages_UnknownLayout_IsNamedNotGuessed(t *testing.T) {
	a5, _ := layoutsOf(t, "a5")
	half, _ := layoutsOf(t, "half-letter")
	pages, err := pagesOf(t, flatCard(t, half, sheetmodel.Front, 8), formsOf(t, a5))
	assert.Empty(t, pages)
	var unknown *scan.UnknownLayoutError
	require.ErrorAs(t, err, &unknown)
	assert.Equal(t, scan.UnknownLayoutError{Layout: half.HashStart(), Card: 8}, *unknown)
	assert.Contains(t, err.Error(), "layout "+half.HashStart()+", which is not here")
}

func TestPages_IdentityCovered_PageWithoutOne(t *testing.T) {
	a5, spare := layoutsOf(t, "a5")
	half, _ := layoutsOf(t, "half-letter")
	img := flatCard(t, a5, sheetmodel.Front, 8)
	for _, r := range a5.Side(sheetmodel.Front).Identity {
		cover(img, r, 200)
	}
	pages, err := pagesOf(t, img, formsOf(t, half, spare, a5))
	require.NoError(t, err)
	require.Len(t, pages, 1)
	assert.Nil(t, pages[0].Identity)
	// The same form on the other paper can't be told apart, nor does it matter: its fields lie alike.
	assert.False(t, pages[0].Layout.Spare, "the form whose print fits")
	for _, f := range a5.Side(sheetmodel.Front).Fields {
		got, want := pages[0].PhotoFromSheet(pages[0].Side.Field(f.Name).Rect.Center()), onFlat(f.Rect.Center())
		assert.Less(t, math.Hypot(got.X-want.X, got.Y-want.Y)/flatPxPerMM, 0.1, f.Name)
	}
}

func TestPages_OneIdentityCovered_OtherIsEnough(t *testing.T) {
	a5, _ := layoutsOf(t, "a5")
	for i := range 2 {
		img := flatCard(t, a5, sheetmodel.Back, 41)
		cover(img, a5.Side(sheetmodel.Back).Identity[i], 30)
		pages, err := pagesOf(t, img, formsOf(t, a5))
		require.NoError(t, err)
		require.NotNil(t, pages[0].Identity)
		assert.Equal(t, 41, pages[0].Identity.Card)
	}
}

func TestPages_TwoIdentitiesOnOneCard_AreRefused(t *testing.T) {
	a5, _ := layoutsOf(t, "a5")
	img, other := flatCard(t, a5, sheetmodel.Front, 8), flatCard(t, a5, sheetmodel.Front, 9)
	r := a5.Side(sheetmodel.Front).Identity[1].Grow(0.5)
	a, b := onFlat(sheetmodel.SheetPoint{X: r.X, Y: r.Y}), onFlat(sheetmodel.SheetPoint{X: r.X + r.W, Y: r.Y + r.H})
	at := image.Rect(int(a.X), int(a.Y), int(b.X), int(b.Y))
	draw.Draw(img, at, other, at.Min, draw.Src)
	pages, err := pagesOf(t, img, formsOf(t, a5))
	assert.Empty(t, pages)
	var refusal *scan.RefusedError
	require.ErrorAs(t, err, &refusal)
	assert.Equal(t, scan.FaultIdentity, refusal.Fault)
	assert.Contains(t, err.Error(), "differ (card 8 and card 9)")
}

func TestPages_TwoCardsInOnePhoto_NoneMixedUp(t *testing.T) {
	a5, _ := layoutsOf(t, "a5")
	front, back := flatCard(t, a5, sheetmodel.Front, 5), flatCard(t, a5, sheetmodel.Front, 6)
	w := front.Rect.Dx()
	both := image.NewGray(image.Rect(0, 0, 2*w, front.Rect.Dy()))
	draw.Draw(both, front.Rect, front, image.Point{}, draw.Src)
	draw.Draw(both, front.Rect.Add(image.Pt(w, 0)), back, image.Point{}, draw.Src)
	pages, err := pagesOf(t, both, formsOf(t, a5))
	require.NoError(t, err)
	require.Len(t, pages, 2)
	for _, p := range pages {
		require.NotNil(t, p.Identity)
		shift := float64((p.Identity.Card - 5) * w)
		assert.Less(t, worstMiss(p, func(s sheetmodel.SheetPoint) sheetmodel.PhotoPoint {
			q := onFlat(s)
			return sheetmodel.PhotoPoint{X: q.X + shift, Y: q.Y}
		}), 0.1)
	}
	assert.NotEqual(t, pages[0].Identity.Card, pages[1].Identity.Card)
}

func TestPages_MarksCovered_FoundByTheRestOrByPrint(t *testing.T) {
	a5, _ := layoutsOf(t, "a5")
	forms := formsOf(t, a5)
	marks := a5.Side(sheetmodel.Front).Marks
	for n := range len(marks) + 1 {
		img := flatCard(t, a5, sheetmodel.Front, 5)
		for _, m := range marks[:n] {
			cover(img, m.Rect, 180)
		}
		pages, err := pagesOf(t, img, forms)
		require.NoError(t, err, "%d covered", n)
		require.Len(t, pages, 1)
		assert.Equal(t, n > 3, pages[0].Quality.ByPrint, "%d covered: three marks are enough", n)
		assert.Equal(t, 6-n, pages[0].Quality.Marks)
		assert.Less(t, worstMiss(pages[0], onFlat), 0.2, "%d covered", n)
		require.NotNil(t, pages[0].Identity)
		assert.Equal(t, 5, pages[0].Identity.Card)
	}
}

func TestPages_MarksAndMostPrintCovered_Refused(t *testing.T) {
	a5, _ := layoutsOf(t, "a5")
	side := a5.Side(sheetmodel.Front)
	img := flatCard(t, a5, sheetmodel.Front, 5)
	for _, m := range side.Marks[:4] {
		cover(img, m.Rect, 180)
	}
	cover(img, sheetmodel.Rect{X: 4, Y: side.H / 2, W: side.W - 8, H: side.H/2 - 30}, 180)
	pages, err := pagesOf(t, img, formsOf(t, a5))
	assert.Empty(t, pages)
	var refusal *scan.RefusedError
	require.ErrorAs(t, err, &refusal)
	assert.Equal(t, scan.FaultPrint, refusal.Fault, "the card is there, its print is not")
}

func TestPages_FingerOverARow_NamesItsFields(t *testing.T) {
	a5, _ := layoutsOf(t, "a5")
	img := flatCard(t, a5, sheetmodel.Front, 5)
	bib := a5.Side(sheetmodel.Front).Field("row-04.bib")
	if bib == nil {
		for i, f := range a5.Side(sheetmodel.Front).Fields {
			if f.Row == 4 && f.Part == sheetmodel.PartBib {
				bib = &a5.Side(sheetmodel.Front).Fields[i]
			}
		}
	}
	require.NotNil(t, bib)
	cover(img, bib.Rect.Grow(3), 90)
	pages, err := pagesOf(t, img, formsOf(t, a5))
	require.NoError(t, err)
	assert.Contains(t, pages[0].Quality.Hidden, bib.Name)
	assert.Less(t, len(pages[0].Quality.Hidden), 20, "not the whole card: %v", pages[0].Quality.Hidden)
}

func TestPages_RowOutsideThePicture_NamesIt(t *testing.T) {
	a5, _ := layoutsOf(t, "a5")
	side := a5.Side(sheetmodel.Front)
	img := flatCard(t, a5, sheetmodel.Front, 5)
	last := side.RowFields(10)[0].Rect
	bottom := int(onFlat(sheetmodel.SheetPoint{Y: last.Y + last.H/2}).Y)
	cut := image.NewGray(image.Rect(0, 0, img.Rect.Dx(), bottom))
	draw.Draw(cut, cut.Rect, img, image.Point{}, draw.Src)
	pages, err := pagesOf(t, cut, formsOf(t, a5))
	assert.Empty(t, pages)
	require.EqualError(t, err, "row 10 is outside the picture; step back and take it again with the whole card in the picture")
}

func TestPages_WrongMat_IsAnError(t *testing.T) {
	a5, _ := layoutsOf(t, "a5")
	forms := formsOf(t, a5)
	empty := gocv.NewMat()
	defer empty.Close()
	colour := gocv.NewMatWithSize(40, 40, gocv.MatTypeCV8UC3)
	defer colour.Close()
	for _, m := range []gocv.Mat{empty, colour} {
		_, err := scan.Pages(m, forms, scan.Options{})
		require.Error(t, err)
		_, err = scan.Find(m, forms)
		require.Error(t, err)
	}
}

func TestPages_NoCards_AreAllRefused(t *testing.T) {
	a5, _ := layoutsOf(t, "a5")
	forms := formsOf(t, sheetmodel.BuiltinLayouts()...)
	rng := rand.New(rand.NewPCG(7, 7))
	pictures := map[string]*image.Gray{}
	blank := func(name string, g uint8) *image.Gray {
		img := image.NewGray(image.Rect(0, 0, 1400, 1000))
		fillGrey(img, img.Rect, g)
		pictures[name] = img
		return img
	}
	blank("white", 250)
	blank("black", 3)
	noise := blank("noise", 0)
	for i := range noise.Pix {
		noise.Pix[i] = uint8(rng.IntN(256))
	}
	snow := blank("snow", 0)
	for y := range 1000 {
		for x := range 1400 {
			v := 200 + 25*math.Sin(float64(x)/37+3*math.Sin(float64(y)/91)) + 15*math.Sin(float64(x+2*y)/11) + float64(rng.IntN(12))
			snow.Pix[y*1400+x] = uint8(v)
		}
	}
	checks := blank("checkerboard", 255)
	for y := range 1000 {
		for x := range 1400 {
			if (x/12+y/12)%2 == 0 {
				checks.Pix[y*1400+x] = 0
			}
		}
	}
	form := blank("a form of boxes", 245)
	for y := 40; y < 960; y += 46 {
		for x := 40; x < 1340; x += 62 {
			fillGrey(form, image.Rect(x, y, x+44, y+34), 30)
			fillGrey(form, image.Rect(x+3, y+3, x+41, y+31), 245)
		}
	}
	// Frames like our marks around patterns at random: some pass for a mark, but not for a card.
	frames := blank("frames with random patterns", 245)
	for y := 30; y < 940; y += 80 {
		for x := 30; x < 1340; x += 80 {
			fillGrey(frames, image.Rect(x, y, x+48, y+48), 10)
			for j := 1; j < 5; j++ {
				for i := 1; i < 5; i++ {
					if rng.IntN(2) == 0 {
						fillGrey(frames, image.Rect(x+8*i, y+8*j, x+8*i+8, y+8*j+8), 245)
					}
				}
			}
		}
	}
	// Our marks where they belong, but the print between them is not a card's.
	bare := flatCard(t, a5, sheetmodel.Front, 5)
	for y := sheetmodel.MM(0); y < 210; y++ {
		for x := sheetmodel.MM(0); x < 148; x++ {
			keep := false
			for _, m := range a5.Side(sheetmodel.Front).Marks {
				keep = keep || m.Rect.Grow(1.5).Contains(sheetmodel.SheetPoint{X: x + .5, Y: y + .5})
			}
			if !keep {
				cover(bare, sheetmodel.Rect{X: x, Y: y, W: 1, H: 1}, 255)
			}
		}
	}
	pictures["marks without a form"] = bare
	require.Len(t, pictures, 8)
	for name, img := range pictures {
		pages, err := pagesOf(t, img, forms)
		assert.Empty(t, pages, name)
		var refusal *scan.RefusedError
		assert.ErrorAs(t, err, &refusal, name)
	}
}

// Wherever the picture ends, a card is refused or every field of its rows is in the picture.
func TestPages_CutAnywhere_NoRowIsInvented(t *testing.T) {
	a5, _ := layoutsOf(t, "a5")
	forms := formsOf(t, a5)
	img := flatCard(t, a5, sheetmodel.Front, 5)
	rng := rand.New(rand.NewPCG(11, 11))
	straight := 0
	for range 30 {
		x, y := rng.IntN(160), rng.IntN(160)
		part := image.Rect(x, y, img.Rect.Dx()-rng.IntN(160), img.Rect.Dy()-rng.IntN(160))
		cut := image.NewGray(image.Rect(0, 0, part.Dx(), part.Dy()))
		draw.Draw(cut, cut.Rect, img, part.Min, draw.Src)
		pages, err := pagesOf(t, cut, forms)
		if err != nil {
			var refusal *scan.RefusedError
			require.ErrorAs(t, err, &refusal, "cut %v", part)
			require.Empty(t, pages)
			continue
		}
		straight++
		for _, f := range a5.Side(sheetmodel.Front).Fields {
			p := onFlat(f.Rect.Center())
			if f.Row > 0 {
				assert.True(t, image.Pt(int(p.X), int(p.Y)).In(part), "cut %v: %s", part, f.Name)
			}
		}
		assert.Less(t, worstMiss(pages[0], func(s sheetmodel.SheetPoint) sheetmodel.PhotoPoint {
			p := onFlat(s)
			return sheetmodel.PhotoPoint{X: p.X - float64(x), Y: p.Y - float64(y)}
		}), 1.0, "cut %v", part)
	}
	assert.Positive(t, straight)
	assert.Less(t, straight, 30)
}
