package scan

import (
	"image"
	"math"
	"sort"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// How sharp a photo is, from print whose shape is known: each mark's picture is compared with the mark
// blurred by a Gaussian of σ mm; the σ that fits best is the blur, whatever the light.

var blurLadder = [...]float64{0.03, 0.08, 0.13, 0.18, 0.24, 0.30, 0.37, 0.45, 0.54, 0.65, 0.8, 1.0, 1.25}

// pxBlur is the variance that sampling by square px and linear interpolation adds, in px².
const pxBlur = 0.15

// sharpness returns the median blur over the marks, σ in mm on paper, and the median contrast between
// their black and white in grey levels.
func sharpness(v *view, f *face, marks []seenMark, pxPerMM float64) (sigma, contrast float64) {
	var sigmas, contrasts []float64
	for _, s := range marks {
		rect, ok := f.mark(s.id)
		if !ok {
			continue
		}
		// Its own corners, not the card's map: a map that misses the mark a little would pass for blur.
		own, ok := fitHomography(cornerPairs(sheetmodel.Rect{W: rect.W, H: rect.H}, s))
		if !ok {
			continue
		}
		g, c := markBlur(v, &own, float64(rect.W), s.id)
		px := pxPerMM * v.sx
		sigmas = append(sigmas, math.Sqrt(max(g*g-pxBlur/(px*px), 0)))
		contrasts = append(contrasts, c)
	}
	if len(sigmas) == 0 {
		return math.Inf(1), 0
	}
	sort.Float64s(sigmas)
	sort.Float64s(contrasts)
	return sigmas[len(sigmas)/2], contrasts[len(contrasts)/2]
}

// markBlur returns the blur of one mark of size mm, whose top left corner is the origin of own.
func markBlur(v *view, own *homography, size float64, id int) (sigma, contrast float64) {
	const n = 44 // points along a side
	margin := size / 8
	step := (size + 2*margin) / n
	var seen [n * n]float64
	pos := func(i int) float64 { return (float64(i)+0.5)*step - margin } // mm from the mark's corner
	for j := range n {
		for i := range n {
			seen[j*n+i] = v.grey(v.local(own.at(sheetmodel.SheetPoint{X: sheetmodel.MM(pos(i)), Y: sheetmodel.MM(pos(j))})))
		}
	}
	pattern := sheetmodel.MarkPattern(id)
	fits := make([]float64, len(blurLadder))
	var gains [len(blurLadder)]float64
	for k, s := range blurLadder {
		// share[i][c]: how much of module column c is seen at point i.
		var share [n][sheetmodel.MarkModules]float64
		for i := range n {
			for c := range sheetmodel.MarkModules {
				a, b := float64(c)*size/sheetmodel.MarkModules, float64(c+1)*size/sheetmodel.MarkModules
				share[i][c] = 0.5 * (math.Erf((b-pos(i))/(s*math.Sqrt2)) - math.Erf((a-pos(i))/(s*math.Sqrt2)))
			}
		}
		var sm, sg, smm, smg, sgg float64
		for j := range n {
			var row [sheetmodel.MarkModules]float64
			for r := range sheetmodel.MarkModules {
				for c := range sheetmodel.MarkModules {
					if markBlack(pattern, c, r) {
						row[c] += share[j][r]
					}
				}
			}
			for i := range n {
				ink := 0.0
				for c, w := range row {
					ink += w * share[i][c]
				}
				g := seen[j*n+i]
				sm, sg, smm, smg, sgg = sm+ink, sg+g, smm+ink*ink, smg+ink*g, sgg+g*g
			}
		}
		const all = n * n
		vm, vg, cov := smm/all-sm/all*sm/all, sgg/all-sg/all*sg/all, smg/all-sm/all*sg/all
		fits[k] = vg - cov*cov/vm // residual variance
		gains[k] = -cov / vm
	}
	best := 0
	for k := range fits {
		if fits[k] < fits[best] {
			best = k
		}
	}
	sigma = blurLadder[best]
	if best > 0 && best < len(fits)-1 {
		// A parabola through three uneven steps of the ladder.
		x0, x1, x2 := blurLadder[best-1], blurLadder[best], blurLadder[best+1]
		a, b := (fits[best]-fits[best-1])/(x1-x0), (fits[best+1]-fits[best])/(x2-x1)
		if c := (b - a) / (x2 - x0); c > 0 {
			sigma = min(max((x0+x1)/2-a/(2*c), x0), x2)
		}
	}
	return sigma, gains[best]
}

// markBlack reports whether module column c, row r of a mark is printed.
func markBlack(pattern uint16, c, r int) bool {
	const last = sheetmodel.MarkModules - 1
	if c == 0 || r == 0 || c == last || r == last {
		return true
	}
	return pattern&(1<<(15-((r-1)*4+c-1))) != 0
}

// pictureBlur returns how far the picture's strongest edges are spread, σ as a share of its longer side; infinite
// if it shows no edge. It needs no card and serves only to say why none was found.
//
// A step blurred by σ has, after more blur by s, a slope that goes with 1/√(σ² + s²): two s tell σ. Both are so wide
// in the photo that its noise and its sharpening are gone.
func pictureBlur(v *view) (float64, error) {
	const (
		side   = 700 // px, longer side
		narrow = 0.8 // px
		wide   = 2 * narrow
		share  = 0.002 // of px: the strongest edges
		least  = 2.0   // grey levels a px: less is no edge
	)
	k := side / float64(max(v.w, v.h))
	small := gocv.NewMat()
	defer small.Close()
	gocv.Resize(v.mat, &small, v.scaled(k), 0, 0, gocv.InterpolationArea)
	small.ConvertTo(&small, gocv.MatTypeCV32F)
	var slope [2]float64
	for i, s := range [2]float64{narrow, wide} {
		var err error
		if slope[i], err = strongSlope(small, s, share); err != nil {
			return 0, err
		}
	}
	if slope[0] < least {
		return math.Inf(1), nil
	}
	r2 := slope[0] * slope[0] / (slope[1] * slope[1])
	return math.Sqrt(max(wide*wide-r2*narrow*narrow, 0)/max(r2-1, 1e-3)) / side, nil
}

// strongSlope returns the slope, per px, that a share of the px exceed once the picture is blurred by sigma px.
func strongSlope(picture gocv.Mat, sigma, share float64) (float64, error) {
	soft := gocv.NewMat()
	defer soft.Close()
	gocv.GaussianBlur(picture, &soft, image.Pt(0, 0), sigma, sigma, gocv.BorderReplicate)
	pix, err := soft.DataPtrFloat32()
	if err != nil {
		return 0, err
	}
	w, h := soft.Cols(), soft.Rows()
	slopes := make([]float64, 0, w*h)
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			i := y*w + x
			slopes = append(slopes, math.Hypot(float64(pix[i+1]-pix[i-1]), float64(pix[i+w]-pix[i-w]))/2)
		}
	}
	if len(slopes) == 0 {
		return 0, nil
	}
	sort.Float64s(slopes)
	return slopes[int(float64(len(slopes)-1)*(1-share))], nil
}
