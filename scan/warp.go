package scan

import (
	"image"
	"image/color"
	"math"
	"slices"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// warp resamples the photo into a page, once. Where the photo is finer than the page it is averaged
// first, or strokes would break up into beads; where it is coarser, cubic interpolation keeps them even.
//
// It goes strip by strip: the maps of a whole page are eight times as large as the page.
func warp(photo gocv.Mat, m *sheetMap, side *sheetmodel.Side, pxPerMM, photoPxPerMM float64) (gocv.Mat, error) {
	w, h := int(math.Ceil(float64(side.W)*pxPerMM-1e-6)), int(math.Ceil(float64(side.H)*pxPerMM-1e-6))
	n := newNet(m, w, h, pxPerMM)
	source, how := photo, gocv.InterpolationCubic
	k := 1
	if ratio := photoPxPerMM / pxPerMM; ratio > 1.1 {
		how, k = gocv.InterpolationLinear, 2*int(math.Round((ratio-1)/2))+1
	}
	if k > 1 || max(photo.Cols(), photo.Rows()) >= mostPx {
		// Only where the card lies. Blur sees beyond a region's edge, so that its px come out as in the whole photo.
		card := n.within(photo.Cols(), photo.Rows())
		if card.Empty() || max(card.Dx(), card.Dy()) >= mostPx {
			return gocv.Mat{}, refused(FaultPrint, "take it again with the whole card in the picture", "the card seems to be %d × %d pixels large", card.Dx(), card.Dy())
		}
		source = photo.Region(card)
		defer func(region gocv.Mat) { _ = region.Close() }(source)
		if k > 1 {
			soft := gocv.NewMat()
			defer soft.Close()
			gocv.Blur(source, &soft, image.Pt(k, k))
			source = soft
		}
		n.move(-card.Min.X, -card.Min.Y)
	}
	page := gocv.NewMatWithSize(h, w, gocv.MatTypeCV8U)
	if err := n.remap(source, page, how); err != nil {
		_ = page.Close()
		return gocv.Mat{}, err
	}
	return page, nil
}

// net is where the photo shows every netPx-th px of a page; between, the map is taken as straight: within 1 mm it
// bends by less than a hundredth of a px.
type net struct {
	nx, ny int
	x, y   []float32
}

const (
	netPx   = 8
	stripPx = 8 * netPx
	mostPx  = 32767 // of a side of what OpenCV resamples; it ends the program over more
)

func newNet(m *sheetMap, w, h int, pxPerMM float64) *net {
	n := &net{nx: (w+netPx-1)/netPx + 1, ny: (h+netPx-1)/netPx + 1}
	n.x, n.y = make([]float32, n.nx*n.ny), make([]float32, n.nx*n.ny)
	bend, smooth := m.bend.(*spline)
	var row splineRow
	if smooth {
		row = bend.row()
	}
	for j := range n.ny {
		if smooth {
			row.to(sheetmodel.SheetFromPage(sheetmodel.PagePoint{Y: float64(j * netPx)}, pxPerMM).Y)
		}
		for i := range n.nx {
			at := sheetmodel.SheetFromPage(sheetmodel.PagePoint{X: float64(i * netPx), Y: float64(j * netPx)}, pxPerMM)
			var dx, dy float64
			if smooth {
				dx, dy = row.at(at.X)
			} else {
				dx, dy = m.bend.at(at)
			}
			p := m.flat.at(sheetmodel.SheetPoint{X: at.X + sheetmodel.MM(dx), Y: at.Y + sheetmodel.MM(dy)})
			n.x[j*n.nx+i], n.y[j*n.nx+i] = float32(p.X), float32(p.Y)
		}
	}
	return n
}

// within returns the part of a picture of w × h px that the net covers, and a few px round it; all of a picture that
// the net leaves, unless that is too large to be resampled.
func (n *net) within(w, h int) image.Rectangle {
	const margin = 4
	all := image.Rect(0, 0, w, h)
	x0, x1, y0, y1 := slices.Min(n.x), slices.Max(n.x), slices.Min(n.y), slices.Max(n.y)
	if max(w, h) < mostPx && !(x0 >= 0 && y0 >= 0 && x1 < float32(w) && y1 < float32(h)) {
		return all
	}
	// Beyond the picture its edge goes on, and the part has that edge.
	part := image.Rect(int(max(x0, 0)), int(max(y0, 0)), int(min(x1, float32(w)))+1, int(min(y1, float32(h)))+1)
	return part.Inset(-margin).Intersect(all)
}

func (n *net) move(dx, dy int) {
	for i := range n.x {
		n.x[i], n.y[i] = n.x[i]+float32(dx), n.y[i]+float32(dy)
	}
}

// remap fills the page.
func (n *net) remap(source, page gocv.Mat, how gocv.InterpolationFlags) error {
	w, h := page.Cols(), page.Rows()
	mapX, mapY := gocv.NewMatWithSize(stripPx, w, gocv.MatTypeCV32F), gocv.NewMatWithSize(stripPx, w, gocv.MatTypeCV32F)
	defer mapX.Close()
	defer mapY.Close()
	xs, err := mapX.DataPtrFloat32()
	if err != nil {
		return err
	}
	ys, err := mapY.DataPtrFloat32()
	if err != nil {
		return err
	}
	for top := 0; top < h; top += stripPx {
		rows := min(stripPx, h-top)
		n.fill(w, top, rows, xs, ys)
		x, y, strip := mapX.RowRange(0, rows), mapY.RowRange(0, rows), page.RowRange(top, top+rows)
		gocv.Remap(source, &strip, &x, &y, how, gocv.BorderReplicate, color.RGBA{})
		for _, part := range []*gocv.Mat{&x, &y, &strip} {
			_ = part.Close()
		}
	}
	return nil
}

// fill interpolates linearly for rows of a page of w px, from row top on.
func (n *net) fill(w, top, rows int, xs, ys []float32) {
	nx := n.nx
	for k := range rows {
		j, fy := (top+k)/netPx, float32((top+k)%netPx)/netPx
		rowX, rowY := xs[k*w:(k+1)*w], ys[k*w:(k+1)*w]
		for i := range nx - 1 {
			a := j*nx + i
			x0, x1 := n.x[a]+(n.x[a+nx]-n.x[a])*fy, n.x[a+1]+(n.x[a+nx+1]-n.x[a+1])*fy
			y0, y1 := n.y[a]+(n.y[a+nx]-n.y[a])*fy, n.y[a+1]+(n.y[a+nx+1]-n.y[a+1])*fy
			stepX, stepY := (x1-x0)/netPx, (y1-y0)/netPx
			for k := i * netPx; k < min((i+1)*netPx, w); k++ {
				rowX[k], rowY[k] = x0, y0
				x0, y0 = x0+stepX, y0+stepY
			}
		}
	}
}
