package byprint

import (
	"image"
	"math"
	"sort"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// A ruled table says where it lies by its outer frame, even where nothing in it is unlike the rest:
//
//	dark lines --connected--> outline --hull--> four corners; each frame of the form on each of the photo, four ways
//
// What comes out is guesses, ranked by how many of the form's dark places are darker in the photo than the
// light ones beside them.

const (
	frameShare   = 0.03 // of the picture's area, least
	frameFill    = 0.9  // of the hull's area that its four corners must hold
	framesKept   = 8
	frameGuesses = 24
	probeReach   = 1.5 // mm from a dark place to the light one it is compared with
	probesKept   = 1200
	probeStep    = 4.0 // grey levels
)

// probe is a dark place of a form and a light one beside it, mm.
type probe struct{ dark, light [2]float64 }

// outlines returns the corners of the largest frames in a picture, all in one sense of turning, largest first.
func outlines(grey gocv.Mat) [][4][2]float64 {
	dark := gocv.NewMat()
	defer dark.Close()
	block := max(15, max(grey.Cols(), grey.Rows())/40) | 1
	gocv.AdaptiveThreshold(grey, &dark, 255, gocv.AdaptiveThresholdMean, gocv.ThresholdBinaryInv, block, 7)
	contours := gocv.FindContours(dark, gocv.RetrievalList, gocv.ChainApproxSimple)
	defer contours.Close()
	least := frameShare * float64(grey.Cols()*grey.Rows())
	var all [][4][2]float64
	for _, contour := range contours.ToPoints() {
		var box image.Rectangle
		for i, p := range contour {
			at := image.Rectangle{Min: p, Max: p.Add(image.Pt(1, 1))}
			if i == 0 {
				box = at
			}
			box = box.Union(at)
		}
		if float64(box.Dx()*box.Dy()) < least {
			continue
		}
		points := make([][2]float64, len(contour))
		for i, p := range contour {
			points[i] = [2]float64{float64(p.X), float64(p.Y)}
		}
		hull := convexHull(points)
		area := areaOf(hull)
		quad, ok := fourCorners(hull)
		if area < least || !ok || areaOf(quad[:]) < frameFill*area || known(quad, all) {
			continue
		}
		all = append(all, quad)
	}
	sort.SliceStable(all, func(i, j int) bool { return areaOf(all[i][:]) > areaOf(all[j][:]) })
	return all[:min(len(all), framesKept)]
}

// known reports whether a frame is one of those found already: both edges of its line are outlines.
func known(quad [4][2]float64, all [][4][2]float64) bool {
	const same = 6 // px
	for _, o := range all {
		far := 0.0
		for _, p := range quad {
			near := math.Inf(1)
			for _, q := range o {
				near = min(near, math.Hypot(p[0]-q[0], p[1]-q[1]))
			}
			far = max(far, near)
		}
		if far < same {
			return true
		}
	}
	return false
}

// fourCorners takes from a convex outline the corner that cuts off least, until four are left.
func fourCorners(hull [][2]float64) (quad [4][2]float64, ok bool) {
	h := append([][2]float64(nil), hull...)
	for len(h) > 4 {
		least, at := math.Inf(1), 0
		for i := range h {
			a, b, c := h[(i+len(h)-1)%len(h)], h[i], h[(i+1)%len(h)]
			if s := math.Abs(cross(a, b, c)); s < least {
				least, at = s, i
			}
		}
		h = append(h[:at], h[at+1:]...)
	}
	if len(h) < 4 {
		return quad, false
	}
	copy(quad[:], h)
	return quad, true
}

// probes picks pairs of places by which a guess is ranked, evenly over the form's print.
func probes(page gocv.Mat, w, h sheetmodel.MM) ([]probe, error) {
	pix, err := page.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	cols, rows := page.Cols(), page.Rows()
	px := float64(cols) / float64(w)
	reach := int(math.Round(probeReach * px))
	var all []probe
	for y := reach; y < rows-reach; y++ {
		for x := reach; x < cols-reach; x++ {
			if pix[y*cols+x] > 130 {
				continue
			}
			for _, d := range [4][2]int{{reach, 0}, {-reach, 0}, {0, reach}, {0, -reach}} {
				if u, v := x+d[0], y+d[1]; pix[v*cols+u] > 230 {
					at := func(x, y int) [2]float64 { return [2]float64{(float64(x) + 0.5) / px, (float64(y) + 0.5) / px} }
					all = append(all, probe{at(x, y), at(u, v)})
				}
			}
		}
	}
	step := max(1, len(all)/probesKept)
	var out []probe
	for i := 0; i < len(all); i += step {
		out = append(out, all[i])
	}
	return out, nil
}

// MatchFrames returns where the form may lie by the frames of its tables alone, the likeliest first. Guesses
// overlap: at most one of them is right.
func (f *Form) MatchFrames(p *Picture) []Match {
	type ranked struct {
		match Match
		score float64
	}
	var all []ranked
	for _, own := range f.frames {
		for _, seen := range p.frames {
			for turn := range 4 {
				m, ok := f.onto(own, seen, turn)
				if !ok {
					continue
				}
				all = append(all, ranked{m, f.darker(p, &m)})
			}
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].score > all[j].score })
	var out []Match
	for _, r := range all[:min(len(all), frameGuesses)] {
		out = append(out, r.match)
	}
	return out
}

// onto lays a frame of the form on one of the photo.
func (f *Form) onto(own, seen [4][2]float64, turn int) (m Match, ok bool) {
	var from, to [4]gocv.Point2f
	for i, a := range own {
		b := seen[(i+turn)%4]
		from[i], to[i] = gocv.Point2f{X: float32(a[0]), Y: float32(a[1])}, gocv.Point2f{X: float32(b[0]), Y: float32(b[1])}
		m.Pairs = append(m.Pairs, Pair{sheetmodel.SheetPoint{X: sheetmodel.MM(a[0]), Y: sheetmodel.MM(a[1])}, sheetmodel.PhotoPoint{X: b[0], Y: b[1]}})
	}
	src, dst := gocv.NewPoint2fVectorFromPoints(from[:]), gocv.NewPoint2fVectorFromPoints(to[:])
	defer src.Close()
	defer dst.Close()
	h := gocv.GetPerspectiveTransform2f(src, dst)
	defer h.Close()
	for i := range 9 {
		m.Flat[i] = h.GetDoubleAt(i/3, i%3)
	}
	m.Spread = areaOf(own[:]) / float64(f.W*f.H)
	return m, m.paper(f.W, f.H)
}

// darker returns the share of probes whose dark place is darker in the photo.
func (f *Form) darker(p *Picture, m *Match) float64 {
	grey := func(at [2]float64) (float64, bool) {
		d := m.Flat[6]*at[0] + m.Flat[7]*at[1] + m.Flat[8]
		x := sheetmodel.ScalePx((m.Flat[0]*at[0]+m.Flat[1]*at[1]+m.Flat[2])/d, p.scale)
		y := sheetmodel.ScalePx((m.Flat[3]*at[0]+m.Flat[4]*at[1]+m.Flat[5])/d, p.scale)
		i, j := int(math.Round(x)), int(math.Round(y))
		if i < 0 || j < 0 || i >= p.w || j >= p.h {
			return 0, false
		}
		return float64(p.grey[j*p.w+i]), true
	}
	n := 0
	for _, q := range f.probes {
		a, in := grey(q.dark)
		b, also := grey(q.light)
		if in && also && a < b-probeStep {
			n++
		}
	}
	return float64(n) / float64(max(1, len(f.probes)))
}
