package scan

import (
	"image"
	"math"

	"gocv.io/x/gocv"
)

// Candidates for marks: dark figures with four straight sides.
//
//	level --local threshold, two reaches--> dark figures --contours--> polygons --4 sides--> square
//
// A square's corners are then set anew where the lines through its sides meet; the lines are fitted
// to the steepest place of the step from ink to paper, which blur does not move.
// Cost: two thresholds and contour walks over a level of 2 to 3 million px, about 25 ms.

type point struct{ x, y float64 }

// square is a dark quadrangle in px of a level, corners clockwise as seen.
type square [4]point

// Reaches of the local threshold as shares of a level's longer side: the marks of a card that fills
// the picture are 1/20 to 1/30 of it, those of a card far away a third of that.
var reaches = [...]float64{1.0 / 24, 1.0 / 80}

const (
	thresholdStep = 9  // grey levels darker than the neighbourhood; dusk noise after halving stays below 5
	minSide       = 9  // px of a mark's side: 1.5 px a module, below it no pattern is read
	maxSideShare  = .2 // of the longer side: a larger figure is a card or a shadow
)

// findSquares returns all dark figures of v that look like squares seen at an angle.
func findSquares(v *view) []square {
	var found []square
	for _, reach := range reaches {
		found = append(found, squaresWithin(v, reach)...)
	}
	return found
}

// squaresWithin returns those that are darker than the neighbourhood within one reach.
func squaresWithin(v *view, reach float64) []square {
	var found []square
	dark, hierarchy := gocv.NewMat(), gocv.NewMat()
	defer dark.Close()
	defer hierarchy.Close()
	longer := max(v.w, v.h)
	block := max(int(reach*float64(longer))|1, 3) // a picture of a few px has no smaller neighbourhood
	gocv.AdaptiveThreshold(v.mat, &dark, 255, gocv.AdaptiveThresholdMean, gocv.ThresholdBinaryInv, block, thresholdStep)
	contours := gocv.FindContoursWithParams(dark, &hierarchy, gocv.RetrievalList, gocv.ChainApproxNone)
	defer contours.Close()
	for i := range contours.Size() {
		contour := contours.At(i)
		if n := contour.Size(); n < 4*minSide-8 || float64(n) > 4*maxSideShare*float64(longer) {
			continue
		}
		if q, ok := squareOf(contour); ok {
			found = append(found, q)
		}
	}
	return found
}

// squareOf fits four corners to a contour.
func squareOf(contour gocv.PointVector) (q square, ok bool) {
	for _, share := range [...]float64{0.04, 0.07} {
		approx := gocv.ApproxPolyDP(contour, share*float64(contour.Size()), true)
		var corners []image.Point
		if approx.Size() == 4 {
			corners = approx.ToPoints()
		}
		approx.Close()
		if len(corners) != 4 {
			continue
		}
		for i, c := range corners {
			q[i] = point{float64(c.X), float64(c.Y)}
		}
		return q.clockwise()
	}
	return q, false
}

// clockwise orders the corners and reports whether they make a convex, not too slanted figure.
func (q square) clockwise() (square, bool) {
	if q.turnAt(0) < 0 {
		q[1], q[3] = q[3], q[1]
	}
	shortest, longest := math.Inf(1), 0.0
	for i := range q {
		if q.turnAt(i) <= 0 {
			return q, false
		}
		side := q.side(i)
		shortest, longest = min(shortest, side), max(longest, side)
	}
	// A mark tilted by 60 degrees is half as high as wide; a fold may add to that.
	return q, shortest >= minSide*0.6 && longest >= minSide && shortest > 0.3*longest
}

func (q *square) side(i int) float64 {
	a, b := q[i], q[(i+1)%4]
	return math.Hypot(b.x-a.x, b.y-a.y)
}

func (q *square) center() point {
	var c point
	for _, p := range q {
		c.x += p.x / 4
		c.y += p.y / 4
	}
	return c
}

// turnAt is positive where the outline turns clockwise (y down) at corner i.
func (q *square) turnAt(i int) float64 {
	a, b, c := q[(i+3)%4], q[i], q[(i+1)%4]
	return (b.x-a.x)*(c.y-b.y) - (b.y-a.y)*(c.x-b.x)
}

// sharpen sets the corners anew from lines fitted to the sides; ok is false if a side has no clear step.
func (q square) sharpen(v *view) (square, bool) {
	var lines [4][3]float64 // a, b, c with ax + by = c
	for i := range q {
		line, ok := q.fitSide(v, i)
		if !ok {
			return q, false
		}
		lines[i] = line
	}
	var out square
	for i := range q {
		l, m := lines[(i+3)%4], lines[i]
		det := l[0]*m[1] - l[1]*m[0]
		if math.Abs(det) < 0.2 {
			return q, false
		}
		out[i] = point{(l[2]*m[1] - l[1]*m[2]) / det, (l[0]*m[2] - l[2]*m[0]) / det}
		if math.Hypot(out[i].x-q[i].x, out[i].y-q[i].y) > 0.25*(q.side(i)+q.side((i+3)%4))/2+2 {
			return q, false
		}
	}
	return out.clockwise()
}

// fitSide fits a line to the steepest step from dark to bright across side i.
func (q *square) fitSide(v *view, i int) (line [3]float64, ok bool) {
	a, b := q[i], q[(i+1)%4]
	length := q.side(i)
	tx, ty := (b.x-a.x)/length, (b.y-a.y)/length
	nx, ny := ty, -tx // clockwise corners, y down: outward
	reach := 0.8 * length / 6
	step := min(0.5, reach/4)
	n := min(max(int(length/2), 6), 16)
	var edge []point
	profile := make([]float64, int(2*reach/step)+3)
	for k := range n {
		t := 0.14 + 0.72*float64(k)/float64(n-1)
		ox, oy := a.x+t*(b.x-a.x), a.y+t*(b.y-a.y)
		for j := range profile {
			d := -reach + step*float64(j-1)
			profile[j] = v.grey(ox+d*nx, oy+d*ny)
		}
		if d, found := steepest(profile); found {
			d = -reach + step*(d-1)
			edge = append(edge, point{ox + d*nx, oy + d*ny})
		}
	}
	if len(edge) < n/2 || len(edge) < 4 {
		return line, false
	}
	return fitLine(edge), true
}

// steepest returns where profile rises most, as a fraction of its index.
func steepest(profile []float64) (at float64, ok bool) {
	best, bestAt := 0.0, 0
	slope := func(j int) float64 { return profile[j+1] - profile[j-1] }
	for j := 2; j < len(profile)-2; j++ {
		if s := slope(j); s > best {
			best, bestAt = s, j
		}
	}
	if best < 4 {
		return 0, false
	}
	l, m, r := slope(bestAt-1), best, slope(bestAt+1)
	if d := l - 2*m + r; d < 0 {
		return float64(bestAt) + 0.5*(l-r)/d, true
	}
	return float64(bestAt), true
}

// fitLine fits a line by total least squares, then again without the points farthest from it.
func fitLine(points []point) (line [3]float64) {
	weight := make([]float64, len(points))
	for i := range weight {
		weight[i] = 1
	}
	for range 3 {
		var s, mx, my float64
		for i, p := range points {
			s += weight[i]
			mx += weight[i] * p.x
			my += weight[i] * p.y
		}
		mx, my = mx/s, my/s
		var xx, xy, yy float64
		for i, p := range points {
			dx, dy := p.x-mx, p.y-my
			xx, xy, yy = xx+weight[i]*dx*dx, xy+weight[i]*dx*dy, yy+weight[i]*dy*dy
		}
		angle := 0.5 * math.Atan2(2*xy, xx-yy)
		nx, ny := -math.Sin(angle), math.Cos(angle)
		line = [3]float64{nx, ny, nx*mx + ny*my}
		for i, p := range points {
			r := (nx*p.x + ny*p.y - line[2]) / 0.4 // px; a step found well lies within a few tenths
			weight[i] = 1 / (1 + r*r)
		}
	}
	return line
}
