package sheetmodel

import "math"

// MM is a length on paper in millimetres.
type MM float64

// SheetPoint is a point on one side of the trimmed card: origin top left, x right, y down, in mm.
type SheetPoint struct {
	X MM `json:"x" yaml:"x"`
	Y MM `json:"y" yaml:"y"`
}

// PagePoint is a point of the straightened image in px; a pixel's centre is a whole number, as in OpenCV.
type PagePoint struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// PhotoPoint is a point of the decoded photo in px, EXIF turn applied; a pixel's centre is a whole number.
type PhotoPoint struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// Rect is a rectangle on a side, in mm: top left corner, width and height.
type Rect struct {
	X MM `json:"x" yaml:"x"`
	Y MM `json:"y" yaml:"y"`
	W MM `json:"w" yaml:"w"`
	H MM `json:"h" yaml:"h"`
}

// Grow returns r with d added on every side; a negative d shrinks it.
func (r Rect) Grow(d MM) Rect {
	return Rect{X: r.X - d, Y: r.Y - d, W: r.W + 2*d, H: r.H + 2*d}
}

// Center returns the middle of r.
func (r Rect) Center() SheetPoint {
	return SheetPoint{X: r.X + r.W/2, Y: r.Y + r.H/2}
}

// Contains reports whether p lies in r, borders included.
func (r Rect) Contains(p SheetPoint) bool {
	return p.X >= r.X && p.X <= r.X+r.W && p.Y >= r.Y && p.Y <= r.Y+r.H
}

// Overlaps reports whether r and o share more than a border.
func (r Rect) Overlaps(o Rect) bool {
	const touch = 1e-6 // mm; rounding of sums, far below any printed line
	return r.X+r.W > o.X+touch && o.X+o.W > r.X+touch && r.Y+r.H > o.Y+touch && o.Y+o.H > r.Y+touch
}

// SameInk reports whether r and o share so much paper that one writing may fill both: a third of the smaller, where boxes that
// stand beside each other and were measured in a picture share a line.
func (r Rect) SameInk(o Rect) bool {
	const much = 1.0 / 3
	w := min(r.X+r.W, o.X+o.W) - max(r.X, o.X)
	h := min(r.Y+r.H, o.Y+o.H) - max(r.Y, o.Y)
	return w > 0 && h > 0 && float64(w*h) > much*float64(min(r.W*r.H, o.W*o.H))
}

// Union returns the smallest rectangle that holds r and o.
func (r Rect) Union(o Rect) Rect {
	x0, y0 := math.Min(float64(r.X), float64(o.X)), math.Min(float64(r.Y), float64(o.Y))
	x1 := math.Max(float64(r.X+r.W), float64(o.X+o.W))
	y1 := math.Max(float64(r.Y+r.H), float64(o.Y+o.H))
	return Rect{X: MM(x0), Y: MM(y0), W: MM(x1 - x0), H: MM(y1 - y0)}
}

// Box splits r into n boxes side by side and returns box i, counted from 0.
func (r Rect) Box(i, n int) Rect {
	w := r.W / MM(n)
	return Rect{X: r.X + w*MM(i), Y: r.Y, W: w, H: r.H}
}

// ScalePx scales a pixel coordinate by s when pixel centres are whole numbers.
func ScalePx(x, s float64) float64 { return (x+0.5)*s - 0.5 }

// PageFromSheet returns where p lies on a page straightened at pxPerMM.
func PageFromSheet(p SheetPoint, pxPerMM float64) PagePoint {
	return PagePoint{X: float64(p.X)*pxPerMM - 0.5, Y: float64(p.Y)*pxPerMM - 0.5}
}

// SheetFromPage is the inverse of PageFromSheet.
func SheetFromPage(p PagePoint, pxPerMM float64) SheetPoint {
	return SheetPoint{X: MM((p.X + 0.5) / pxPerMM), Y: MM((p.Y + 0.5) / pxPerMM)}
}
