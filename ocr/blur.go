package ocr

import (
	"math"

	"gatefold/sheetmodel"
)

// blurOf measures how blurred a page is, as the standard deviation of the blur in mm: at the outer edges
// of the registration marks, which are black and straight, the steepest slope of a blurred step is its
// height over √(2π)·σ. It returns the median over the edges, 0 if no mark can be seen.
func blurOf(pix []byte, w int, pxPerMM float64, side *sheetmodel.Side) float64 {
	h := len(pix) / w
	grey := func(p sheetmodel.SheetPoint) (float64, bool) {
		q := sheetmodel.PageFromSheet(p, pxPerMM)
		x, y := int(math.Floor(q.X)), int(math.Floor(q.Y))
		if x < 0 || y < 0 || x+1 >= w || y+1 >= h {
			return 0, false
		}
		fx, fy := q.X-float64(x), q.Y-float64(y)
		top := float64(pix[y*w+x])*(1-fx) + float64(pix[y*w+x+1])*fx
		low := float64(pix[(y+1)*w+x])*(1-fx) + float64(pix[(y+1)*w+x+1])*fx
		return top*(1-fy) + low*fy, true
	}
	var sigmas []float64
	for _, m := range side.Marks {
		c := m.Rect.Center()
		for _, e := range [4]struct{ at, out sheetmodel.SheetPoint }{
			{sheetmodel.SheetPoint{X: m.Rect.X, Y: c.Y}, sheetmodel.SheetPoint{X: -1}},
			{sheetmodel.SheetPoint{X: m.Rect.X + m.Rect.W, Y: c.Y}, sheetmodel.SheetPoint{X: 1}},
			{sheetmodel.SheetPoint{X: c.X, Y: m.Rect.Y}, sheetmodel.SheetPoint{Y: -1}},
			{sheetmodel.SheetPoint{X: c.X, Y: m.Rect.Y + m.Rect.H}, sheetmodel.SheetPoint{Y: 1}},
		} {
			if s, ok := edgeSigma(grey, e.at, e.out); ok {
				sigmas = append(sigmas, s)
			}
		}
	}
	return median(sigmas)
}

// edgeSigma measures one edge along out, averaged over 3 mm of its length. Neighbouring samples of a page
// are the least distance over which a slope is seen; what they alone would show is taken off.
func edgeSigma(grey func(sheetmodel.SheetPoint) (float64, bool), at, out sheetmodel.SheetPoint) (float64, bool) {
	const reach, step = 1.1, 0.1 // mm; the frame is a module of 1.5 mm wide
	var line []float64
	for s := -reach; s <= reach; s += step {
		sum := 0.0
		for t := -1.5; t <= 1.5; t += 0.25 {
			g, ok := grey(sheetmodel.SheetPoint{
				X: at.X + sheetmodel.MM(s)*out.X + sheetmodel.MM(t)*out.Y,
				Y: at.Y + sheetmodel.MM(s)*out.Y + sheetmodel.MM(t)*out.X,
			})
			if !ok {
				return 0, false
			}
			sum += g
		}
		line = append(line, sum/13)
	}
	height := line[len(line)-1] - line[0]
	steepest := 0.0
	for i := 2; i < len(line); i++ {
		steepest = max(steepest, (line[i]-line[i-2])/(2*step))
	}
	if height < 40 || steepest <= 0 {
		return 0, false // covered, or hidden in a shadow
	}
	return height / steepest / math.Sqrt(2*math.Pi), true
}
