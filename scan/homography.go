package scan

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"gatefold/sheetmodel"
)

// homography maps the flat sheet, in mm, to the photo, in px; row by row.
type homography [9]float64

func (h *homography) at(p sheetmodel.SheetPoint) sheetmodel.PhotoPoint {
	x, y := float64(p.X), float64(p.Y)
	w := h[6]*x + h[7]*y + h[8]
	return sheetmodel.PhotoPoint{X: (h[0]*x + h[1]*y + h[2]) / w, Y: (h[3]*x + h[4]*y + h[5]) / w}
}

// inverse returns the map from the photo to the flat sheet; ok is false for a singular map.
func (h *homography) inverse() (inv homography, ok bool) {
	inv = homography{
		h[4]*h[8] - h[5]*h[7], h[2]*h[7] - h[1]*h[8], h[1]*h[5] - h[2]*h[4],
		h[5]*h[6] - h[3]*h[8], h[0]*h[8] - h[2]*h[6], h[2]*h[3] - h[0]*h[5],
		h[3]*h[7] - h[4]*h[6], h[1]*h[6] - h[0]*h[7], h[0]*h[4] - h[1]*h[3],
	}
	det := h[0]*inv[0] + h[1]*inv[3] + h[2]*inv[6]
	if math.Abs(det) < 1e-12 {
		return inv, false
	}
	for i := range inv {
		inv[i] /= det
	}
	return inv, true
}

// PointPair is one place on the sheet and where the photo shows it.
type PointPair struct {
	Sheet sheetmodel.SheetPoint `json:"sheet_mm"`
	Photo sheetmodel.PhotoPoint `json:"photo_px"`
}

// fitHomography returns the map that fits at least four pairs best in the algebraic sense; ok is
// false if they don't fix one.
//
// Source: normalised DLT, Hartley & Zisserman, Multiple View Geometry, 2nd ed., alg. 4.2.
func fitHomography(pairs []PointPair) (h homography, ok bool) {
	if len(pairs) < 4 {
		return h, false
	}
	sheet, photo := make([][2]float64, len(pairs)), make([][2]float64, len(pairs))
	for i, p := range pairs {
		sheet[i] = [2]float64{float64(p.Sheet.X), float64(p.Sheet.Y)}
		photo[i] = [2]float64{p.Photo.X, p.Photo.Y}
	}
	if len(pairs) == 4 {
		if h, ok = fitFour(sheet, photo); ok {
			return h, true
		}
	}
	sx, sy, ss := normalise(sheet)
	px, py, ps := normalise(photo)
	if ss == 0 || ps == 0 {
		return h, false
	}
	// The smallest eigenvector of AᵀA is the last right singular vector of A, and AᵀA is 9 × 9.
	ata := mat.NewSymDense(9, nil)
	for i := range pairs {
		x, y := (sheet[i][0]-sx)*ss, (sheet[i][1]-sy)*ss
		u, v := (photo[i][0]-px)*ps, (photo[i][1]-py)*ps
		for _, row := range [2][9]float64{
			{-x, -y, -1, 0, 0, 0, u * x, u * y, u},
			{0, 0, 0, -x, -y, -1, v * x, v * y, v},
		} {
			for a := range 9 {
				for b := a; b < 9; b++ {
					ata.SetSym(a, b, ata.At(a, b)+row[a]*row[b])
				}
			}
		}
	}
	var eig mat.EigenSym
	if !eig.Factorize(ata, true) {
		return h, false
	}
	values := eig.Values(nil)
	if values[1] < 1e-12*values[8] {
		return h, false // more than one map fits: points on a line
	}
	var vectors mat.Dense
	eig.VectorsTo(&vectors)
	var n homography
	for i := range 9 {
		n[i] = vectors.At(i, 0)
	}
	// photo = P⁻¹ · n · S, with S and P the two normalisations.
	toSheet := homography{ss, 0, -ss * sx, 0, ss, -ss * sy, 0, 0, 1}
	fromPhoto := homography{1 / ps, 0, px, 0, 1 / ps, py, 0, 0, 1}
	h = times(fromPhoto, times(n, toSheet))
	// Scale so that w is positive on the card: then a point with w <= 0 lies behind the camera.
	if w := h[6]*sx + h[7]*sy + h[8]; w != 0 {
		for i := range h {
			h[i] /= w
		}
	}
	return h, true
}

// fitFour returns the map that takes four points to four others; ok is false where they lie nearly on a line, which
// fitHomography tells better.
func fitFour(sheet, photo [][2]float64) (h homography, ok bool) {
	fromSquare, ok := squareTo(sheet)
	if !ok {
		return h, false
	}
	toSquare, ok := fromSquare.inverse()
	if !ok {
		return h, false
	}
	if h, ok = squareTo(photo); !ok {
		return h, false
	}
	h = times(h, toSquare)
	var x, y float64
	for _, p := range sheet {
		x, y = x+p[0]/4, y+p[1]/4
	}
	w := h[6]*x + h[7]*y + h[8]
	if w == 0 {
		return h, false
	}
	for i := range h {
		h[i] /= w
	}
	return h, true
}

// squareTo returns the map from the unit square to a quadrangle.
//
// Source: Heckbert, Fundamentals of Texture Mapping and Image Warping, Berkeley 1989, section 2.2.3.
func squareTo(q [][2]float64) (h homography, ok bool) {
	const least = 1e-6 // of the square of the longest side: nearer to a line than that is for others to judge
	dx1, dy1 := q[1][0]-q[2][0], q[1][1]-q[2][1]
	dx2, dy2 := q[3][0]-q[2][0], q[3][1]-q[2][1]
	sx, sy := q[0][0]-q[1][0]+q[2][0]-q[3][0], q[0][1]-q[1][1]+q[2][1]-q[3][1]
	long := 0.0
	for i := range q {
		p, n := q[i], q[(i+1)%4]
		long = max(long, (n[0]-p[0])*(n[0]-p[0])+(n[1]-p[1])*(n[1]-p[1]))
	}
	for i := range q {
		a, b, c := q[(i+3)%4], q[i], q[(i+1)%4]
		if math.Abs((b[0]-a[0])*(c[1]-b[1])-(b[1]-a[1])*(c[0]-b[0])) < least*long {
			return h, false
		}
	}
	det := dx1*dy2 - dx2*dy1
	g, k := (sx*dy2-dx2*sy)/det, (dx1*sy-sx*dy1)/det
	return homography{
		q[1][0] - q[0][0] + g*q[1][0], q[3][0] - q[0][0] + k*q[3][0], q[0][0],
		q[1][1] - q[0][1] + g*q[1][1], q[3][1] - q[0][1] + k*q[3][1], q[0][1],
		g, k, 1,
	}, true
}

func times(a, b homography) (c homography) {
	for r := range 3 {
		for k := range 3 {
			for j := range 3 {
				c[r*3+k] += a[r*3+j] * b[j*3+k]
			}
		}
	}
	return c
}

// normalise returns the centroid and the scale that brings the mean distance from it to √2.
func normalise(points [][2]float64) (cx, cy, scale float64) {
	for _, p := range points {
		cx += p[0] / float64(len(points))
		cy += p[1] / float64(len(points))
	}
	mean := 0.0
	for _, p := range points {
		mean += math.Hypot(p[0]-cx, p[1]-cy) / float64(len(points))
	}
	if mean == 0 {
		return cx, cy, 0
	}
	return cx, cy, math.Sqrt2 / mean
}
