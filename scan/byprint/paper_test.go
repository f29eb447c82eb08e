package byprint_test

import (
	"encoding/json"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/scan"
	"gatefold/scan/camera"
	"gatefold/sheetmodel"
)

// Real photos of handwritten pages on a table, with the page's corners. There is one photo of each page, no page
// has print, and scan seeks no paper's edge: so no photo can be registered against another, and none of the
// corners can be found as such. What can be asked is whether the ink of such a page, taken as the print of a form
// whose corners are known in that photo, is found again: in the photo itself with four other such pages to be
// taken for, and in photos by the simulated camera, where the truth is exact.

// pageWidth stands for the pages' true width, which is not known.
const pageWidth = 210 // mm

// paperPhoto is one real page, made ready as a form.
type paperPhoto struct {
	file    string
	corners [4]sheetmodel.PhotoPoint
	layout  *sheetmodel.Layout
	forms   *scan.Forms
	why     error // why it makes no form
}

func paperPhotos(t *testing.T) []paperPhoto {
	t.Helper()
	root := os.Getenv("GATEFOLD_DATA")
	if root == "" {
		t.Skip("GATEFOLD_DATA is not set: no folder with real photos of pages (paper-photos)")
	}
	b, err := os.ReadFile(filepath.Join(root, "paper-photos", "corners.json"))
	require.NoError(t, err)
	var entries []struct {
		File    string
		Corners [4][2]float64
	}
	require.NoError(t, json.Unmarshal(b, &entries))
	require.NotEmpty(t, entries)
	var out []paperPhoto
	for _, e := range entries {
		p := paperPhoto{file: filepath.Join(root, "paper-photos", e.File)}
		for i, c := range e.Corners {
			p.corners[i] = sheetmodel.PhotoPoint{X: c[0], Y: c[1]}
		}
		side := func(a, b int) float64 {
			return math.Hypot(p.corners[a].X-p.corners[b].X, p.corners[a].Y-p.corners[b].Y)
		}
		height := pageWidth * (side(0, 3) + side(1, 2)) / (side(0, 1) + side(3, 2))
		p.layout = pageLayout(e.File, sheetmodel.MM(math.Round(height)))
		photo := p.open(t)
		p.forms, p.why = scan.PrepareBlank(photo, p.layout, sheetmodel.Front, scan.BlankOptions{Corners: &p.corners, Upright: true})
		require.NoError(t, photo.Close())
		out = append(out, p)
	}
	return out
}

// pageLayout is a page with 24 fields in four columns, from edge to edge.
func pageLayout(name string, height sheetmodel.MM) *sheetmodel.Layout {
	const columns, rows = 4, 6
	var fields []sheetmodel.Field
	for r := range rows {
		for c := range columns {
			w, h := sheetmodel.MM(pageWidth)/columns, height/rows
			fields = append(fields, cell(fmt.Sprintf("%d.%d", r+1, c+1), sheetmodel.Rect{X: sheetmodel.MM(c) * w, Y: sheetmodel.MM(r) * h, W: w, H: h}, r+1))
		}
	}
	return formOf(name, pageWidth, height, fields, nil)
}

func (p *paperPhoto) open(t *testing.T) gocv.Mat {
	t.Helper()
	b, err := os.ReadFile(p.file)
	require.NoError(t, err)
	return decoded(t, b)
}

// flat is the page straightened by its known corners.
func (p *paperPhoto) flat(t *testing.T, pxPerMM float64) *image.Gray {
	t.Helper()
	side := p.layout.Side(sheetmodel.Front)
	w, h := float64(side.W)*pxPerMM, float64(side.H)*pxPerMM
	var from [4]gocv.Point2f
	for i, c := range p.corners {
		from[i] = gocv.Point2f{X: float32(c.X), Y: float32(c.Y)}
	}
	src := gocv.NewPoint2fVectorFromPoints(from[:])
	dst := gocv.NewPoint2fVectorFromPoints([]gocv.Point2f{{X: -0.5, Y: -0.5}, {X: float32(w) - 0.5, Y: -0.5}, {X: float32(w) - 0.5, Y: float32(h) - 0.5}, {X: -0.5, Y: float32(h) - 0.5}})
	m := gocv.GetPerspectiveTransform2f(src, dst)
	photo, out := p.open(t), gocv.NewMat()
	gocv.WarpPerspective(photo, &out, m, image.Pt(int(w), int(h)))
	pix := out.ToBytes()
	img := &image.Gray{Pix: pix, Stride: int(w), Rect: image.Rect(0, 0, int(w), int(h))}
	for _, c := range []interface{ Close() error }{&photo, &out, &m} {
		require.NoError(t, c.Close())
	}
	src.Close()
	dst.Close()
	return img
}

// cornerMiss returns by how many mm on the page a found page has its corners elsewhere than want, at most.
func (p *paperPhoto) cornerMiss(page *scan.Page, want [4]sheetmodel.PhotoPoint) float64 {
	side := p.layout.Side(sheetmodel.Front)
	worst := 0.0
	for i, c := range []sheetmodel.SheetPoint{{}, {X: side.W}, {X: side.W, Y: side.H}, {Y: side.H}} {
		got := page.PhotoFromSheet(c)
		worst = max(worst, math.Hypot(got.X-want[i].X, got.Y-want[i].Y))
	}
	return worst / (math.Hypot(want[1].X-want[0].X, want[1].Y-want[0].Y) / pageWidth)
}

func TestPages_PaperPhotos_EachPageIsFoundAmongTheFive(t *testing.T) {
	papers := paperPhotos(t)
	var ready []paperPhoto
	var all *scan.Forms
	for _, p := range papers {
		if p.why != nil {
			t.Logf("%s: no form: %v", filepath.Base(p.file), p.why)
			continue
		}
		ready = append(ready, p)
		if all == nil {
			all = p.forms
		} else {
			all = all.And(p.forms)
		}
	}
	require.NotEmpty(t, ready)
	for _, p := range ready {
		photo := p.open(t)
		pages, err := scan.Pages(photo, all, scan.Options{})
		if len(pages) == 0 {
			t.Logf("%s: %v", filepath.Base(p.file), err)
		}
		for _, page := range pages {
			assert.Equal(t, p.layout.Name, page.Layout.Name, "%s is taken for another page", filepath.Base(p.file))
			miss := p.cornerMiss(page, p.corners)
			t.Logf("%s: corners off by %.2f mm of %d at most; print %.2f, residual %.2f", filepath.Base(p.file), miss, pageWidth, page.Quality.PrintSeen, page.Quality.ResidualMM)
			assert.Less(t, miss, 3.0, filepath.Base(p.file))
			require.NoError(t, page.Close())
		}
		require.NoError(t, photo.Close())
	}
}

func TestPages_PaperPhotos_FoundInPhotosOfTheirLikeness(t *testing.T) {
	const seeds = 3
	for _, p := range paperPhotos(t) {
		if p.why != nil {
			continue
		}
		side := p.layout.Side(sheetmodel.Front)
		const pxPerMM = 12
		sheet := camera.Sheet{Image: p.flat(t, pxPerMM), PxPerMM: pxPerMM}
		for seed := range uint64(seeds) {
			shot := camera.Levels()[camera.Ordinary].Draw(camera.Scene{W: side.W, H: side.H, Rows: rowsOf(side)}, rand.New(rand.NewPCG(seed, 0xca3e)))
			// The promise that the page is upright, as that of the blank.
			shot.TurnDeg = math.Remainder(shot.TurnDeg, 80)
			taken, err := shot.View().Take(sheet, 0)
			require.NoError(t, err)
			photo := decoded(t, taken.JPEG)
			pages, err := scan.Pages(photo, p.forms, scan.Options{})
			var want [4]sheetmodel.PhotoPoint
			outside := 0
			for i, c := range []sheetmodel.SheetPoint{{}, {X: side.W}, {X: side.W, Y: side.H}, {Y: side.H}} {
				want[i] = taken.View.PhotoFromSheet(c)
				if want[i].X < 0 || want[i].Y < 0 || want[i].X > float64(shot.W-1) || want[i].Y > float64(shot.H-1) {
					outside++
				}
			}
			if len(pages) == 0 {
				t.Logf("%s, shot %d: %v (%d corners of the page are outside the picture)", filepath.Base(p.file), seed, err, outside)
			}
			for _, page := range pages {
				miss := p.cornerMiss(page, want)
				t.Logf("%s, shot %d: corners off by %.2f mm at most; print %.2f, residual %.2f; %d fields flagged", filepath.Base(p.file), seed, miss, page.Quality.PrintSeen, page.Quality.ResidualMM, len(page.Quality.Hidden))
				assert.Less(t, miss, 3.0, "%s, shot %d", filepath.Base(p.file), seed)
				require.NoError(t, page.Close())
			}
			require.NoError(t, photo.Close())
		}
	}
}
