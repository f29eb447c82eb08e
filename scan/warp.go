package scan

import (
	"image"
	"image/color"
	"math"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// warp resamples the photo into a page, once. Where the photo is finer than the page it is averaged
// first, or strokes would break up into beads; where it is coarser, cubic interpolation keeps them even.
func warp(photo gocv.Mat, m *sheetMap, side *sheetmodel.Side, pxPerMM, photoPxPerMM float64) (gocv.Mat, error) {
	w, h := int(math.Ceil(float64(side.W)*pxPerMM-1e-6)), int(math.Ceil(float64(side.H)*pxPerMM-1e-6))
	mapX, mapY := gocv.NewMatWithSize(h, w, gocv.MatTypeCV32F), gocv.NewMatWithSize(h, w, gocv.MatTypeCV32F)
	defer mapX.Close()
	defer mapY.Close()
	xs, err := mapX.DataPtrFloat32()
	if err != nil {
		return gocv.Mat{}, err
	}
	ys, err := mapY.DataPtrFloat32()
	if err != nil {
		return gocv.Mat{}, err
	}
	fillMap(m, w, h, pxPerMM, xs, ys)
	source, how := photo, gocv.InterpolationCubic
	if ratio := photoPxPerMM / pxPerMM; ratio > 1.1 {
		how = gocv.InterpolationLinear
		if k := 2*int(math.Round((ratio-1)/2)) + 1; k > 1 {
			source = gocv.NewMat()
			defer source.Close()
			gocv.Blur(photo, &source, image.Pt(k, k))
		}
	}
	page := gocv.NewMat()
	gocv.Remap(source, &page, &mapX, &mapY, how, gocv.BorderReplicate, color.RGBA{})
	return page, nil
}

// fillMap evaluates the map every netPx and interpolates linearly between: within 1 mm the map bends by
// less than a hundredth of a px.
func fillMap(m *sheetMap, w, h int, pxPerMM float64, xs, ys []float32) {
	const netPx = 8
	nx, ny := (w+netPx-1)/netPx+1, (h+netPx-1)/netPx+1
	px, py := make([]float32, nx*ny), make([]float32, nx*ny)
	for j := range ny {
		for i := range nx {
			p := m.at(sheetmodel.SheetFromPage(sheetmodel.PagePoint{X: float64(i * netPx), Y: float64(j * netPx)}, pxPerMM))
			px[j*nx+i], py[j*nx+i] = float32(p.X), float32(p.Y)
		}
	}
	for y := range h {
		j, fy := y/netPx, float32(y%netPx)/netPx
		rowX, rowY := xs[y*w:(y+1)*w], ys[y*w:(y+1)*w]
		for i := range nx - 1 {
			a := j*nx + i
			x0, x1 := px[a]+(px[a+nx]-px[a])*fy, px[a+1]+(px[a+nx+1]-px[a+1])*fy
			y0, y1 := py[a]+(py[a+nx]-py[a])*fy, py[a+1]+(py[a+nx+1]-py[a+1])*fy
			stepX, stepY := (x1-x0)/netPx, (y1-y0)/netPx
			for k := i * netPx; k < min((i+1)*netPx, w); k++ {
				rowX[k], rowY[k] = x0, y0
				x0, y0 = x0+stepX, y0+stepY
			}
		}
	}
}
