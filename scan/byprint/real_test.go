package byprint_test

import (
	"encoding/json"
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"sort"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/scan"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// Real phone photos of printed number grids. Each shows other digits, and no blank print of any is at hand:
// the form is a grid drawn by us with the usual lines and nothing in it. Print and handwriting in its cells are
// both what somebody filled in. An empty grid looks alike upside down, so the photos are promised to be upright.

const (
	gridCell   = 9 // mm, nominal
	gridMargin = 2
)

func numberGrid() *sheetmodel.Layout {
	const side = 9*gridCell + 2*gridMargin
	var items []sheetmodel.PrintItem
	var fields []sheetmodel.Field
	for i := range 10 {
		at := sheetmodel.MM(gridMargin + i*gridCell)
		width := sheetmodel.MM(0.25)
		if i%3 == 0 {
			width = 0.6
		}
		items = append(items, line(at, gridMargin, at, side-gridMargin, width), line(gridMargin, at, side-gridMargin, at, width))
	}
	for r := range 9 {
		for c := range 9 {
			fields = append(fields, cell(fmt.Sprintf("%d.%d", r+1, c+1), sheetmodel.Rect{
				X: gridMargin + sheetmodel.MM(c)*gridCell, Y: gridMargin + sheetmodel.MM(r)*gridCell, W: gridCell, H: gridCell,
			}, r+1))
		}
	}
	return formOf("number grid", side, side, fields, items)
}

// gridForms prepares the grid for photos that are upright.
func gridForms(t *testing.T) (*sheetmodel.Layout, *scan.Forms) {
	t.Helper()
	l := numberGrid()
	m := greyMat(t, print.RasterBlank(l.Side(sheetmodel.Front), 8))
	defer m.Close()
	forms, err := scan.PrepareBlank(m, l, sheetmodel.Front, scan.BlankOptions{Upright: true})
	require.NoError(t, err)
	return l, forms
}

// gridTruth is one entry of sheets.json or newspaper.json.
type gridTruth struct {
	File          string
	Width, Height int
	Corners       [4][2]float64
	Cells         [9][9]int
}

func readTruth(t *testing.T, folder, name string) []gridTruth {
	t.Helper()
	root := os.Getenv("GATEFOLD_DATA")
	if root == "" {
		t.Skip("GATEFOLD_DATA is not set: no folder with real photos to register (sheet-photos, newspaper-photos)")
	}
	b, err := os.ReadFile(filepath.Join(root, folder, name))
	require.NoError(t, err)
	var all []gridTruth
	require.NoError(t, json.Unmarshal(b, &all))
	require.NotEmpty(t, all)
	return all
}

// registered is how one real photo came out.
type registered struct {
	fault  scan.Fault
	why    string
	worst  float64 // of all 81 cells, how far its middle lies from where the truth's corners put it, in cells
	agree  int     // cells that hold ink or none as the truth says
	inkGap float64 // least ink of a filled cell less most ink of an empty one
}

func register(t *testing.T, folder string, e gridTruth, forms *scan.Forms) registered {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(os.Getenv("GATEFOLD_DATA"), folder, e.File))
	require.NoError(t, err)
	m := decoded(t, b)
	defer m.Close()
	require.Equal(t, [2]int{e.Width, e.Height}, [2]int{m.Cols(), m.Rows()})
	pages, err := scan.Pages(m, forms, scan.Options{})
	for _, p := range pages {
		defer p.Close()
	}
	if len(pages) == 0 {
		var refusal *scan.RefusedError
		require.ErrorAs(t, err, &refusal)
		return registered{fault: refusal.Fault, why: err.Error()}
	}
	require.Len(t, pages, 1)
	out := registered{why: fmt.Sprintf("print %.2f, residual %.2f, blur %.2f mm, %d fields flagged", pages[0].Quality.PrintSeen, pages[0].Quality.ResidualMM, pages[0].Quality.SigmaMM, len(pages[0].Quality.Hidden))}
	truth := homographyOf(e.Corners)
	var filled, empty []float64
	for r := range 9 {
		for c := range 9 {
			rect := pages[0].Side.Field(fmt.Sprintf("%d.%d", r+1, c+1)).Rect
			q := truth(float64(c)+0.5, float64(r)+0.5)
			ox, oy := truth(float64(c)+1, float64(r)+0.5), truth(float64(c)+0.5, float64(r)+1)
			size := math.Sqrt(math.Hypot(2*(ox[0]-q[0]), 2*(ox[1]-q[1])) * math.Hypot(2*(oy[0]-q[0]), 2*(oy[1]-q[1])))
			got := pages[0].PhotoFromSheet(rect.Center())
			out.worst = max(out.worst, math.Hypot(got.X-q[0], got.Y-q[1])/size)
			ink := cellInk(t, pages[0], rect)
			if e.Cells[r][c] > 0 {
				filled = append(filled, ink)
			} else {
				empty = append(empty, ink)
			}
		}
	}
	out.agree, out.inkGap = split(filled, empty)
	return out
}

// homographyOf returns the map from cells to px that the truth's corners give.
func homographyOf(corners [4][2]float64) func(x, y float64) [2]float64 {
	var from, to [4]gocv.Point2f
	for i, c := range [4][2]float32{{0, 0}, {9, 0}, {9, 9}, {0, 9}} {
		from[i], to[i] = gocv.Point2f{X: c[0], Y: c[1]}, gocv.Point2f{X: float32(corners[i][0]), Y: float32(corners[i][1])}
	}
	src, dst := gocv.NewPoint2fVectorFromPoints(from[:]), gocv.NewPoint2fVectorFromPoints(to[:])
	defer src.Close()
	defer dst.Close()
	h := gocv.GetPerspectiveTransform2f(src, dst)
	defer h.Close()
	var v [9]float64
	for i := range v {
		v[i] = h.GetDoubleAt(i/3, i%3)
	}
	return func(x, y float64) [2]float64 {
		d := v[6]*x + v[7]*y + v[8]
		return [2]float64{(v[0]*x + v[1]*y + v[2]) / d, (v[3]*x + v[4]*y + v[5]) / d}
	}
}

// cellInk is the contrast within a cell, its rim left out: the dark end of its grey values below its middle.
func cellInk(t *testing.T, p *scan.Page, rect sheetmodel.Rect) float64 {
	t.Helper()
	in := rect.Grow(-0.14 * gridCell)
	a, b := p.PageFromSheet(sheetmodel.SheetPoint{X: in.X, Y: in.Y}), p.PageFromSheet(sheetmodel.SheetPoint{X: in.X + in.W, Y: in.Y + in.H})
	region := p.Mat.Region(image.Rect(int(a.X+0.5), int(a.Y+0.5), int(b.X+0.5), int(b.Y+0.5)))
	defer region.Close()
	cut := region.Clone()
	defer cut.Close()
	pix, err := cut.DataPtrUint8()
	require.NoError(t, err)
	grey := make([]int, len(pix))
	for i, v := range pix {
		grey[i] = int(v)
	}
	sort.Ints(grey)
	paper := float64(grey[len(grey)*7/10])
	return (paper - float64(grey[len(grey)*3/100])) / paper
}

// split returns how many cells the best single threshold puts on their side, and the gap between the two.
func split(filled, empty []float64) (agree int, gap float64) {
	for _, limit := range append(append([]float64{}, filled...), empty...) {
		n := 0
		for _, v := range filled {
			if v >= limit {
				n++
			}
		}
		for _, v := range empty {
			if v < limit {
				n++
			}
		}
		agree = max(agree, n)
	}
	if len(empty) == 0 {
		return len(filled), percentile(filled, 0)
	}
	return agree, percentile(filled, 0) - percentile(empty, 1)
}

func testReal(t *testing.T, folder, name string) {
	truth := readTruth(t, folder, name)
	_, forms := gridForms(t)
	for _, e := range truth {
		r := register(t, folder, e, forms)
		t.Logf("%s: %s %s; cells off by up to %.2f, ink agrees in %d of 81, gap %.2f", e.File, r.fault, r.why, r.worst, r.agree, r.inkGap)
		if r.fault == "" {
			assert.Less(t, r.worst, 0.25, "%s: a cell lies elsewhere", e.File)
		}
	}
}

func TestPages_SheetPhotos_EveryCellInItsPlace(t *testing.T) {
	testReal(t, "sheet-photos", "sheets.json")
}

func TestPages_NewspaperPhotos_EveryCellInItsPlace(t *testing.T) {
	testReal(t, "newspaper-photos", "newspaper.json")
}
