package byprint

import (
	"fmt"
	"image"
	"math"
	"slices"

	"gocv.io/x/gocv"
	"gonum.org/v1/gonum/mat"

	"gatefold/sheetmodel"
)

// OutlineError says why a picture of a blank card can't be straightened by the card's edge.
type OutlineError struct{ Detail, Remedy string }

// Error names what is wrong and the remedy.
func (e *OutlineError) Error() string { return e.Detail + "; " + e.Remedy }

const (
	outlineLook   = 1000   // px, longer side of the picture in which the card is sought
	leastOutline  = 0.12   // of the picture: a smaller bright patch is no card that shows its print
	mostOutline   = 0.985  // of the picture: a larger one fills it
	cornerMargin  = 3      // px of that picture that a corner keeps from its edge
	edgeWobble    = 0.0035 // of the card's longer side, by which its edge may leave a straight line (0.7 mm of A5)
	shapeSlack    = 0.05   // by which the sides' ratio may differ from the card's
	fillsItSlack  = 0.02   // by which a flat scan's sides may
	remedyOutline = "lay the card flat and whole on something dark, take it from straight above; or scan it and cut the scan to the card's edges"
)

// FillsIt reports whether a picture has the shape of a card of w × h mm with nothing but paper along its edge, as a scan
// cut to the card has.
func FillsIt(picture gocv.Mat, w, h sheetmodel.MM) bool {
	return HasShape(picture, w, h) && PaperToTheEdge(picture)
}

// FillsPage is FillsIt for a page of a document, which nobody photographed on a table: one of its edges may be dark with
// print, a band with the league's name say.
func FillsPage(picture gocv.Mat, w, h sheetmodel.MM) bool {
	if FillsIt(picture, w, h) {
		return true
	}
	dark := darkEdges(picture)
	slices.Sort(dark[:])
	return HasShape(picture, w, h) && dark[0]+dark[1]+dark[2] < mostDark
}

// HasShape reports whether a picture has the shape of a card of w × h mm.
func HasShape(picture gocv.Mat, w, h sheetmodel.MM) bool {
	ratio := float64(picture.Cols()) / float64(picture.Rows()) / (float64(w) / float64(h))
	return math.Abs(ratio-1) <= fillsItSlack
}

// PaperToTheEdge reports whether a picture has nothing much darker than paper along its edge.
func PaperToTheEdge(picture gocv.Mat) bool {
	dark := darkEdges(picture)
	return dark[0]+dark[1]+dark[2]+dark[3] < mostDark
}

const mostDark = 60 // of 800: a shadow in a corner, print that runs to the edge

// darkEdges counts, of 200 places along each edge, top, bottom, left and right, those that are much darker than paper. All
// are dark in what is no picture.
func darkEdges(picture gocv.Mat) (dark [4]int) {
	small := gocv.NewMat()
	defer small.Close()
	gocv.Resize(picture, &small, image.Pt(200, 200), 0, 0, gocv.InterpolationArea)
	pix, err := small.DataPtrUint8()
	if err != nil {
		return [4]int{200, 200, 200, 200}
	}
	all := slices.Clone(pix)
	slices.Sort(all)
	paper := float64(all[len(all)*8/10])
	for i := range 200 {
		for k, v := range []uint8{pix[2*200+i], pix[197*200+i], pix[i*200+2], pix[i*200+197]} {
			if float64(v) < 0.6*paper {
				dark[k]++
			}
		}
	}
	return dark
}

// Outline finds the four corners of a bright card on a darker ground, held within 45 degrees of upright: top left, top
// right, bottom right, bottom left, as Flatten takes them.
//
// photo is 8-bit grey and stays the caller's. The error is an *OutlineError where the card isn't surely seen: it touches
// the picture's edge, is as bright as its ground, is bent, or is no card of w × h mm.
func Outline(photo gocv.Mat, w, h sheetmodel.MM) ([4]sheetmodel.PhotoPoint, error) {
	var none [4]sheetmodel.PhotoPoint
	if photo.Empty() || photo.Type() != gocv.MatTypeCV8U {
		return none, errNotGrey
	}
	k := min(1, outlineLook/float64(max(photo.Cols(), photo.Rows())))
	small, bright := gocv.NewMat(), gocv.NewMat()
	defer small.Close()
	defer bright.Close()
	gocv.Resize(photo, &small, image.Point{}, k, k, gocv.InterpolationArea)
	gocv.GaussianBlur(small, &small, image.Pt(0, 0), 1.5, 1.5, gocv.BorderDefault)
	gocv.Threshold(small, &bright, 0, 255, gocv.ThresholdBinary|gocv.ThresholdOtsu)
	kernel := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(7, 7))
	defer kernel.Close()
	gocv.MorphologyEx(bright, &bright, gocv.MorphOpen, kernel) // glints at the card's edge
	contours := gocv.FindContours(bright, gocv.RetrievalExternal, gocv.ChainApproxNone)
	defer contours.Close()
	best, area := -1, 0.0
	for i := range contours.Size() {
		if a := gocv.ContourArea(contours.At(i)); a > area {
			best, area = i, a
		}
	}
	whole := float64(small.Cols() * small.Rows())
	if best < 0 || area < leastOutline*whole || area > mostOutline*whole {
		return none, &OutlineError{"no card is seen that stands out from what it lies on", remedyOutline}
	}
	edge := contours.At(best).ToPoints()
	corners, ok := cornersOf(edge)
	if !ok {
		return none, &OutlineError{"what is bright in the picture has no four corners", remedyOutline}
	}
	for _, c := range corners {
		if c[0] < cornerMargin || c[1] < cornerMargin || c[0] > float64(small.Cols()-1-cornerMargin) || c[1] > float64(small.Rows()-1-cornerMargin) {
			return none, &OutlineError{"the card touches the edge of the picture", remedyOutline}
		}
	}
	corners, wobble := straightSides(edge, corners)
	if wobble > edgeWobble*max(length(corners[0], corners[1]), length(corners[1], corners[2])) {
		return none, &OutlineError{"the card's edge isn't straight: it is bent, folded or partly covered", remedyOutline}
	}
	ratio := ratioOf(corners, float64(small.Cols())/2, float64(small.Rows())/2)
	if want := float64(w) / float64(h); math.Abs(ratio/want-1) > shapeSlack {
		return none, &OutlineError{fmt.Sprintf("its sides are as %.2f to 1, those of a card of %v × %v mm as %.2f", ratio, w, h, want),
			"give the card's size as it is held (describe: --size; a layout: w and h of its side), and turn the picture upright"}
	}
	var out [4]sheetmodel.PhotoPoint
	for i, c := range corners {
		out[i] = sheetmodel.PhotoPoint{X: sheetmodel.ScalePx(c[0], 1/k), Y: sheetmodel.ScalePx(c[1], 1/k)}
	}
	return out, nil
}

func length(a, b [2]float64) float64 { return math.Hypot(a[0]-b[0], a[1]-b[1]) }

// cornersOf returns the corners of the quadrilateral that a closed edge is nearly, from the top left on clockwise.
func cornersOf(edge []image.Point) ([4][2]float64, bool) {
	var out [4][2]float64
	points := gocv.NewPointVectorFromPoints(edge)
	defer points.Close()
	around := gocv.ArcLength(points, true)
	for _, eps := range []float64{0.01, 0.02, 0.03} {
		poly := gocv.ApproxPolyDP(points, eps*around, true)
		found := poly.ToPoints()
		poly.Close()
		if len(found) != 4 {
			continue
		}
		var cx, cy float64
		for _, p := range found {
			cx, cy = cx+float64(p.X)/4, cy+float64(p.Y)/4
		}
		slices.SortFunc(found, func(a, b image.Point) int {
			d := math.Atan2(float64(a.Y)-cy, float64(a.X)-cx) - math.Atan2(float64(b.Y)-cy, float64(b.X)-cx)
			return int(math.Copysign(1, d))
		})
		for i, p := range found {
			out[i] = [2]float64{float64(p.X), float64(p.Y)}
		}
		// Sorted by angle from the left on, clockwise on the picture: the first is the top left unless the card is turned.
		for range 4 {
			if d := [2]float64{out[1][0] - out[0][0], out[1][1] - out[0][1]}; d[0] > math.Abs(d[1]) {
				return out, true
			}
			out = [4][2]float64{out[1], out[2], out[3], out[0]}
		}
		return out, false
	}
	return out, false
}

// straightSides fits a line to the edge along each side and returns where they meet, and by how much the edge leaves
// them: the largest root mean square of the four.
func straightSides(edge []image.Point, corners [4][2]float64) ([4][2]float64, float64) {
	var sides [4][3]float64 // a·x + b·y = c
	worst := 0.0
	for i := range 4 {
		p, q := corners[i], corners[(i+1)%4]
		d := [2]float64{q[0] - p[0], q[1] - p[1]}
		n := math.Hypot(d[0], d[1])
		var on [][2]float64
		for _, e := range edge {
			x, y := float64(e.X)-p[0], float64(e.Y)-p[1]
			along, off := (x*d[0]+y*d[1])/n, (x*d[1]-y*d[0])/n
			const nearLine, clearOfCorner = 0.03, 0.06
			if math.Abs(off) < nearLine*n && along > clearOfCorner*n && along < (1-clearOfCorner)*n {
				on = append(on, [2]float64{float64(e.X), float64(e.Y)})
			}
		}
		line, rms := fitLine(on)
		if len(on) < int(n/2) {
			rms = math.Inf(1)
		}
		sides[i], worst = line, max(worst, rms)
	}
	var out [4][2]float64
	for i := range 4 {
		a, b := sides[(i+3)%4], sides[i]
		det := a[0]*b[1] - a[1]*b[0]
		if math.Abs(det) < 1e-9 {
			return corners, math.Inf(1)
		}
		out[i] = [2]float64{(a[2]*b[1] - a[1]*b[2]) / det, (a[0]*b[2] - a[2]*b[0]) / det}
	}
	return out, worst
}

// fitLine is the line of least squared distances (total least squares), and their root mean square.
func fitLine(ps [][2]float64) ([3]float64, float64) {
	if len(ps) < 2 {
		return [3]float64{}, math.Inf(1)
	}
	var mx, my float64
	for _, p := range ps {
		mx, my = mx+p[0]/float64(len(ps)), my+p[1]/float64(len(ps))
	}
	var xx, xy, yy float64
	for _, p := range ps {
		x, y := p[0]-mx, p[1]-my
		xx, xy, yy = xx+x*x, xy+x*y, yy+y*y
	}
	theta := 0.5*math.Atan2(2*xy, xx-yy) + math.Pi/2
	a, b := math.Cos(theta), math.Sin(theta)
	c := a*mx + b*my
	sum := 0.0
	for _, p := range ps {
		d := a*p[0] + b*p[1] - c
		sum += d * d
	}
	return [3]float64{a, b, c}, math.Sqrt(sum / float64(len(ps)))
}

// ratioOf is width over height of the rectangle that four corners show in perspective, with the lens looking at (cx, cy).
//
// Source: Zhang and He, Whiteboard scanning and image enhancement, 2007, section 3: the plane's vectors n2 and n3 give
// the focal length and the ratio. Seen nearly from straight above the focal length can't be told, nor does it matter.
func ratioOf(c [4][2]float64, cx, cy float64) float64 {
	flat := (length(c[0], c[1]) + length(c[3], c[2])) / (length(c[0], c[3]) + length(c[1], c[2]))
	var m [4]*mat.VecDense // their order: top left, top right, bottom left, bottom right
	for i, j := range []int{0, 1, 3, 2} {
		m[i] = mat.NewVecDense(3, []float64{c[j][0] - cx, c[j][1] - cy, 1})
	}
	cross := func(a, b *mat.VecDense) *mat.VecDense {
		v := func(u *mat.VecDense, i int) float64 { return u.AtVec(i % 3) }
		out := mat.NewVecDense(3, nil)
		for i := range 3 {
			out.SetVec(i, v(a, i+1)*v(b, i+2)-v(a, i+2)*v(b, i+1))
		}
		return out
	}
	m14 := cross(m[0], m[3])
	k2 := mat.Dot(m14, m[2]) / mat.Dot(cross(m[1], m[3]), m[2])
	k3 := mat.Dot(m14, m[1]) / mat.Dot(cross(m[2], m[3]), m[1])
	var n2, n3 mat.VecDense
	n2.AddScaledVec(scaled(m[0], -1), k2, m[1])
	n3.AddScaledVec(scaled(m[0], -1), k3, m[2])
	if math.Abs(n2.AtVec(2)) < 0.04 || math.Abs(n3.AtVec(2)) < 0.04 {
		return flat
	}
	ff := -(n2.AtVec(0)*n3.AtVec(0) + n2.AtVec(1)*n3.AtVec(1)) / (n2.AtVec(2) * n3.AtVec(2))
	least := 0.3 * math.Hypot(cx, cy)
	if ff < least*least {
		return flat
	}
	norm := func(v *mat.VecDense) float64 {
		return (v.AtVec(0)*v.AtVec(0)+v.AtVec(1)*v.AtVec(1))/ff + v.AtVec(2)*v.AtVec(2)
	}
	return math.Sqrt(norm(&n2) / norm(&n3))
}

func scaled(v *mat.VecDense, by float64) *mat.VecDense {
	var out mat.VecDense
	out.ScaleVec(by, v)
	return &out
}
