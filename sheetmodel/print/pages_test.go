package print_test

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/idcode"
	"gatefold/sheetmodel/print"
)

var raceDay = time.Date(2027, 1, 17, 7, 0, 0, 0, time.UTC)

const pdfPxPerMM = 8

// rendered turns a PDF into one grey image a page, by poppler's renderer: not ours.
func rendered(t *testing.T, pdf []byte) []*image.Gray {
	t.Helper()
	if _, err := exec.LookPath("pdftoppm"); err != nil {
		t.Skip("pdftoppm is not installed; install poppler-utils to compare PDF and raster")
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "cards.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	out, err := exec.CommandContext(t.Context(), "pdftoppm", "-gray", "-png", "-r", fmt.Sprint(pdfPxPerMM*25.4), file, filepath.Join(dir, "page")).CombinedOutput()
	require.NoError(t, err, string(out))
	names, err := filepath.Glob(filepath.Join(dir, "page*.png"))
	require.NoError(t, err)
	var pages []*image.Gray
	for _, name := range names {
		f, err := os.Open(name)
		require.NoError(t, err)
		img, err := png.Decode(f)
		require.NoError(t, err)
		require.NoError(t, f.Close())
		grey := image.NewGray(img.Bounds())
		draw.Draw(grey, grey.Rect, img, image.Point{}, draw.Src)
		pages = append(pages, grey)
	}
	return pages
}

// onPage is the rule in the comment of Placement, written a second time.
func onPage(p print.Placement, x, y float64) (px, py float64) {
	if p.Turn == 90 {
		return p.X - y, p.Y + x
	}
	return p.X + x, p.Y + y
}

func at(img *image.Gray, xMM, yMM float64) uint8 {
	return img.GrayAt(int(xMM*pdfPxPerMM), int(yMM*pdfPxPerMM)).Y
}

func job(t *testing.T, paper string, form print.Form, cards int) (print.Job, *sheetmodel.Layout, *sheetmodel.Layout) {
	t.Helper()
	o := larch()
	o.Paper = paper
	l := bound(t, o)
	o.Spare = true
	spare := bound(t, o)
	return print.Job{
		Title: "Larch Valley Cup", Form: form, Created: raceDay,
		Stacks: []print.Stack{
			{Layout: l, Cards: print.Numbered(larchCard(l, 1, 0), 1, cards)},
			{Layout: spare, Cards: print.Spares(larchCard(spare, 1, 0), 101, 102)},
		},
	}, l, spare
}

// Another program's picture of the PDF must hold, at each placement, the card it says, in the place
// the layout says: identity, marks and the raster's every stroke.
func TestCards_EachPlacement_HoldsItsCard(t *testing.T) {
	for paper, form := range map[string]print.Form{"a5": print.TwoUp, "half-letter": print.FoldOver} {
		t.Run(fmt.Sprint(form, " ", paper), func(t *testing.T) {
			j, l, spare := job(t, paper, form, 3)
			var out bytes.Buffer
			placements, err := print.Cards(&out, j)
			require.NoError(t, err)
			require.Len(t, placements, 2*(3+2))
			pages := rendered(t, out.Bytes())
			for _, p := range placements {
				layout := l
				if p.Layout == spare.Hash() {
					layout = spare
				}
				checkPlacement(t, pages[p.Page-1], layout, p)
			}
			assert.Len(t, pages, placements[len(placements)-1].Page)
		})
	}
}

func checkPlacement(t *testing.T, page *image.Gray, l *sheetmodel.Layout, p print.Placement) {
	t.Helper()
	require.Equal(t, l.Hash(), p.Layout)
	side := l.Side(p.Side)
	for _, r := range side.Identity {
		var m idcode.Modules
		step := float64(r.W) / idcode.Size
		for y := range idcode.Size {
			for x := range idcode.Size {
				px, py := onPage(p, float64(r.X)+(float64(x)+0.5)*step, float64(r.Y)+(float64(y)+0.5)*step)
				m[y][x] = at(page, px, py) < 128
			}
		}
		id, err := idcode.Decode(m)
		require.NoError(t, err)
		assert.Equal(t, []any{p.Run, p.Course, p.Card, p.Side}, []any{id.Run, id.Course, id.Card, id.Side})
		assert.Equal(t, l.HashStart(), id.Layout)
	}
	if p.Card != 1 && p.Card != 101 {
		return // one of each kind is enough
	}
	// Both drawings agree: averaged over a millimetre they differ by little anywhere. The other
	// renderer sets large letters on whole pixels, so its picture may be shifted by one pixel
	// (0.125 mm) for the comparison; a missing quarter-millimetre line makes a difference of 29 or more.
	card := larchCard(l, p.Run, p.Card)
	if l.Spare {
		card.Date, card.Course, card.Identity.Run, card.Identity.Course = "", "", 0, 0
	}
	ours, err := print.Raster(side, card, pdfPxPerMM)
	require.NoError(t, err)
	worst := 0.0
	const n = pdfPxPerMM
	mean := func(shift func(x, y float64) (float64, float64), img *image.Gray, x, y float64) float64 {
		sum := 0.0
		for dy := range n {
			for dx := range n {
				px, py := shift(x+(float64(dx)+0.5)/n, y+(float64(dy)+0.5)/n)
				sum += float64(at(img, px, py))
			}
		}
		return sum / n / n
	}
	const rim = 4 // where the page says "cut here"
	for y := rim; y < int(side.H)-rim; y++ {
		for x := rim; x < int(side.W)-rim; x++ {
			want := mean(func(x, y float64) (float64, float64) { return x, y }, ours, float64(x), float64(y))
			nearest := 255.0
			for i := range 9 {
				dx, dy := float64(i%3-1)/n, float64(i/3-1)/n
				got := mean(func(x, y float64) (float64, float64) { return onPage(p, x+dx, y+dy) }, page, float64(x), float64(y))
				nearest = min(nearest, max(got-want, want-got))
			}
			worst = max(worst, nearest)
		}
	}
	assert.Less(t, worst, 28.0, "%s of card %d on page %d", p.Side, p.Card, p.Page)
}

func TestCards_SameJob_SameBytes(t *testing.T) {
	j, _, _ := job(t, "a5", print.TwoUp, 4)
	var a, b bytes.Buffer
	_, err := print.Cards(&a, j)
	require.NoError(t, err)
	_, err = print.Cards(&b, j)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(a.Bytes(), b.Bytes()))
	j.Created = j.Created.Add(time.Second)
	b.Reset()
	_, err = print.Cards(&b, j)
	require.NoError(t, err)
	assert.False(t, bytes.Equal(a.Bytes(), b.Bytes()), "the time given stands in the file")
}

// Flipped about its short edge a sheet carries each card's back behind its front.
func TestCards_TwoUp_BackLiesBehindItsFront(t *testing.T) {
	j, _, _ := job(t, "a5", print.TwoUp, 5)
	var out bytes.Buffer
	placements, err := print.Cards(&out, j)
	require.NoError(t, err)
	fronts := map[int]print.Placement{}
	for _, p := range placements {
		if p.Side == sheetmodel.Front {
			fronts[p.Card] = p
		}
	}
	for _, p := range placements {
		if p.Side == sheetmodel.Front {
			continue
		}
		f := fronts[p.Card]
		assert.Equal(t, f.Page+1, p.Page)
		// The paper is 297 mm wide: x on the back is 297 - x on the front. The front covers
		// X to X+148; the turned back X-148 to X.
		assert.InDelta(t, 297-f.X, p.X, 0.011, "card %d", p.Card)
	}
	// Cut and stacked, left pile on top, cards follow their numbers: 1 2 3 left, 4 5 right.
	assert.Equal(t, []int{1, 4, 1, 4, 2, 5, 2, 5, 3, 3}, numbers(placements[:10]))
}

func numbers(ps []print.Placement) []int {
	var n []int
	for _, p := range ps {
		n = append(n, p.Card)
	}
	return n
}

func TestCards_FaultyJob_WritesNothing(t *testing.T) {
	l := bound(t, larch())
	for want, j := range map[string]print.Job{
		"no cards to print": {},
		"unknown form":      {Form: "booklet"},
		"without a layout":  {Stacks: []print.Stack{{Cards: []print.CardPrint{{}}}}},
		"do not fit":        {Stacks: []print.Stack{{Layout: l, Cards: print.Numbered(larchCard(l, 1, 0), 70000, 70000)}}},
	} {
		var out bytes.Buffer
		_, err := print.Cards(&out, j)
		require.ErrorContains(t, err, want)
		assert.Zero(t, out.Len())
	}
}

func TestTestPage_FrontAndBackArrow_LieOnEachOther(t *testing.T) {
	var out bytes.Buffer
	require.NoError(t, print.TestPage(&out, "a5", raceDay))
	pages := rendered(t, out.Bytes())
	require.Len(t, pages, 2)
	front, back := pages[0], pages[1]
	inked := func(img *image.Gray, x, y float64) bool { return at(img, x, y) < 128 }
	assert.True(t, inked(front, 297/4.0, 37), "the tip of the front's arrow is up")
	assert.False(t, inked(front, 297/4.0-10, 80), "its foot is narrow")
	// The back's arrow is an outline of the same shape, mirrored: its edge lies on the front's edge.
	assert.True(t, inked(back, 297-(297/4.0-5), 75))
	assert.True(t, inked(back, 297-(297/4.0), 36.2))
	require.Error(t, print.TestPage(&out, "a7", raceDay))
}

func TestNewGeometry_HoldsEveryField(t *testing.T) {
	j, l, spare := job(t, "a5", print.TwoUp, 2)
	var out bytes.Buffer
	placements, err := print.Cards(&out, j)
	require.NoError(t, err)
	g := print.NewGeometry([]*sheetmodel.Layout{l, spare}, placements)
	require.Len(t, g.Layouts, 2)
	assert.Equal(t, l.Hash(), g.Layouts[0].Hash)
	assert.Equal(t, l.Sides[0].Fields, g.Layouts[0].Sides[0].Fields)
	assert.Equal(t, placements, g.Placements)
	assert.NotNil(t, print.NewGeometry(nil, nil).Placements)
}
