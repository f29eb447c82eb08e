package sheetmodel

import "math"

// symbol returns the drawing of a named sign around at, in the design's mm. They make up the key
// of the back: one sign for each thing a judge sketches, quick to draw with a blunt pencil.
func symbol(name string, at SheetPoint) ([]PrintItem, bool) {
	p := func(dx, dy MM) SheetPoint { return SheetPoint{X: at.X + dx, Y: at.Y + dy} }
	line := func(ps ...SheetPoint) PrintItem { return PrintItem{Line: ps, Width: 0.35} }
	switch name {
	case "uphill":
		return []PrintItem{
			{Poly: []SheetPoint{p(0, -4.5), p(2.4, -0.6), p(0.7, -0.6), p(0.7, 1.6), p(-0.7, 1.6), p(-0.7, -0.6), p(-2.4, -0.6)}},
			{Text: "uphill", At: p(0, 4.4), Size: 1.8, Bold: true, Align: AlignCenter},
		}, true
	case "turning-pole":
		return []PrintItem{{Poly: circle(at, 1.1)}}, true
	case "outer-pole":
		c := circle(at, 1)
		return []PrintItem{line(append(c, c[0])...)}, true
	case "pole-down":
		return []PrintItem{line(p(-1.1, -1.1), p(1.1, 1.1)), line(p(-1.1, 1.1), p(1.1, -1.1))}, true
	case "usual-line":
		var dashes []PrintItem
		for i := range 4 {
			x := MM(i)*1.7 - 3
			dashes = append(dashes, line(p(x, 0), p(x+1, 0)))
		}
		return dashes, true
	case "racer-line":
		return []PrintItem{
			line(p(-3, 0), p(1.6, 0)),
			{Poly: []SheetPoint{p(3.1, 0), p(1.2, -0.9), p(1.2, 0.9)}},
		}, true
	case "i-stand":
		return []PrintItem{line(p(0, -1.2), p(1.2, 0.9), p(-1.2, 0.9), p(0, -1.2))}, true
	case "here":
		return []PrintItem{line(p(-1.5, 0), p(1.5, 0)), line(p(0, -1.5), p(0, 1.5)), line(p(-1, -1), p(1, 1)), line(p(-1, 1), p(1, -1))}, true
	default:
		return nil, false
	}
}

// circle returns a polygon that prints as a circle.
func circle(c SheetPoint, r MM) []SheetPoint {
	const corners = 24
	ps := make([]SheetPoint, corners)
	for i := range ps {
		s, k := math.Sincos(2 * math.Pi * float64(i) / corners)
		ps[i] = SheetPoint{X: c.X + r*MM(k), Y: c.Y + r*MM(s)}
	}
	return ps
}
