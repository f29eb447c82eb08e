package byprint

import (
	"image"
	"image/color"
	"math"
	"sort"

	"gocv.io/x/gocv"
	"gonum.org/v1/gonum/mat"

	"gatefold/sheetmodel"
)

const (
	flattenBlock = 8.0 // mm, side of a block whose bright px count as paper
	// A block darker than this share of the light that its surroundings tell of is print all over.
	printedBlock = 0.82
	shadeSlack   = 0.04 // of the light: what lies farther below it hardly counts
)

// Flatten returns a blank form upright at pxPerMM, paper white (255) and its darkest print black, from a flat
// scan or photo of it.
//
// corners are those of the form in picture: top left, top right, bottom right, bottom left; nil if the form
// fills it. picture is 8-bit grey and stays the caller's. The result is the caller's to close.
func Flatten(picture gocv.Mat, corners *[4]sheetmodel.PhotoPoint, w, h sheetmodel.MM, pxPerMM float64) (gocv.Mat, error) {
	if picture.Empty() || picture.Type() != gocv.MatTypeCV8U {
		return gocv.Mat{}, errNotGrey
	}
	at := [4]sheetmodel.PhotoPoint{
		{X: -0.5, Y: -0.5}, {X: float64(picture.Cols()) - 0.5, Y: -0.5},
		{X: float64(picture.Cols()) - 0.5, Y: float64(picture.Rows()) - 0.5}, {X: -0.5, Y: float64(picture.Rows()) - 0.5},
	}
	if corners != nil {
		at = *corners
	}
	size := image.Pt(int(math.Ceil(float64(w)*pxPerMM-1e-6)), int(math.Ceil(float64(h)*pxPerMM-1e-6)))
	// Oversampled, then averaged: print must not break up.
	scale := (math.Hypot(at[1].X-at[0].X, at[1].Y-at[0].Y)/float64(w) + math.Hypot(at[3].X-at[0].X, at[3].Y-at[0].Y)/float64(h)) / 2
	k := max(1, int(math.Round(scale/pxPerMM)))
	var from, to [4]gocv.Point2f
	ends := [4][2]float64{{0, 0}, {float64(w), 0}, {float64(w), float64(h)}, {0, float64(h)}}
	for i := range 4 {
		from[i] = gocv.Point2f{X: float32(at[i].X), Y: float32(at[i].Y)}
		to[i] = gocv.Point2f{X: float32(ends[i][0]*pxPerMM*float64(k) - 0.5), Y: float32(ends[i][1]*pxPerMM*float64(k) - 0.5)}
	}
	src, dst := gocv.NewPoint2fVectorFromPoints(from[:]), gocv.NewPoint2fVectorFromPoints(to[:])
	defer src.Close()
	defer dst.Close()
	turn := gocv.GetPerspectiveTransform2f(src, dst)
	defer turn.Close()
	large := gocv.NewMat()
	defer large.Close()
	gocv.WarpPerspectiveWithParams(picture, &large, turn, size.Mul(k), gocv.InterpolationCubic, gocv.BorderReplicate, color.RGBA{})
	page := gocv.NewMat()
	gocv.Resize(large, &page, size, 0, 0, gocv.InterpolationArea)
	if err := whiten(page, pxPerMM); err != nil {
		_ = page.Close()
		return gocv.Mat{}, err
	}
	return page, nil
}

// whiten divides by the paper's own brightness, and stretches the darkest print to black.
func whiten(page gocv.Mat, pxPerMM float64) error {
	pix, err := page.DataPtrUint8()
	if err != nil {
		return err
	}
	w, h := page.Cols(), page.Rows()
	block := max(4, int(flattenBlock*pxPerMM))
	nx, ny := (w+block-1)/block, (h+block-1)/block
	bright := make([]float64, nx*ny)
	for j := range ny {
		for i := range nx {
			var all []int
			for y := j * block; y < min(h, (j+1)*block); y += 2 {
				for x := i * block; x < min(w, (i+1)*block); x += 2 {
					all = append(all, int(pix[y*w+x]))
				}
			}
			sort.Ints(all)
			bright[j*nx+i] = float64(all[len(all)*85/100])
		}
	}
	paper := paperOf(bright, nx, ny)
	ink := make([]float64, w*h)
	for y := range h {
		fy := min(max((float64(y)+0.5)/float64(block)-0.5, 0), float64(ny-1))
		j := min(int(fy), max(ny-2, 0))
		for x := range w {
			fx := min(max((float64(x)+0.5)/float64(block)-0.5, 0), float64(nx-1))
			i := min(int(fx), max(nx-2, 0))
			i1, j1 := min(i+1, nx-1), min(j+1, ny-1)
			tx, ty := fx-float64(i), fy-float64(j)
			white := (paper[j*nx+i]*(1-tx)+paper[j*nx+i1]*tx)*(1-ty) + (paper[j1*nx+i]*(1-tx)+paper[j1*nx+i1]*tx)*ty
			ink[y*w+x] = max(0, 1-float64(pix[y*w+x])/white)
		}
	}
	order := append([]float64(nil), ink...)
	sort.Float64s(order)
	black := max(order[len(order)*995/1000], 0.15)
	for i, v := range ink {
		pix[i] = uint8(math.Round(255 * (1 - min(v/black, 1))))
	}
	return nil
}

// paperOf returns the paper's brightness for each block: its own, or, where print fills it, what a smooth light
// over the sheet says.
func paperOf(bright []float64, nx, ny int) []float64 {
	light := make([]float64, len(bright))
	terms := func(k int) [6]float64 {
		x, y := float64(k%nx)/float64(max(nx-1, 1))-0.5, float64(k/nx)/float64(max(ny-1, 1))-0.5
		return [6]float64{1, x, y, x * x, x * y, y * y}
	}
	for pass := range 8 {
		// Weighted least squares of a paraboloid; print lies below the light, never above.
		ata, atb := mat.NewSymDense(6, nil), mat.NewVecDense(6, nil)
		for k, b := range bright {
			weight := 1.0
			if pass > 0 && b < light[k]*(1-shadeSlack) {
				weight = 0.02
			}
			v := terms(k)
			for i := range v {
				atb.SetVec(i, atb.AtVec(i)+weight*v[i]*b)
				for j := i; j < len(v); j++ {
					ata.SetSym(i, j, ata.At(i, j)+weight*v[i]*v[j])
				}
			}
		}
		for i := range 6 {
			ata.SetSym(i, i, ata.At(i, i)+1e-6)
		}
		var chol mat.Cholesky
		var c mat.VecDense
		if !chol.Factorize(ata) || chol.SolveVecTo(&c, atb) != nil {
			break
		}
		for k := range light {
			v := terms(k)
			light[k] = 0
			for i := range v {
				light[k] += c.AtVec(i) * v[i]
			}
		}
	}
	paper := make([]float64, len(bright))
	for k, b := range bright {
		paper[k] = max(b, 1)
		if b < printedBlock*light[k] {
			paper[k] = light[k]
		}
	}
	return paper
}
