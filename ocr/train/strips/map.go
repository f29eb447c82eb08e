package strips

import (
	"math"

	"gatefold/scan/camera/hand"
)

// Size of a Map, px, and its frame: MapUnit px are the height of a capital, MapPad px stand around.
const (
	MapW    = 60
	MapH    = 44
	MapUnit = 32
	MapPad  = 6
	MapFar  = 6.0 // px: the largest distance that is told
)

// Map is a glyph as the distance to its centre lines, 0 on them and 255 from MapFar px on: a trainer draws
// it with a pen of any width. Wide says how wide the glyph is, px.
type Map struct {
	Pix  [MapW * MapH]byte
	Wide byte
}

// NewMap measures g in the frame of a capital: its top at MapPad, its line of writing MapUnit below.
func NewMap(g hand.Strokes) Map {
	var near [MapW * MapH]float64
	for i := range near {
		near[i] = MapFar
	}
	for _, l := range g.Lines {
		for i, p := range l.Points {
			q := l.Points[max(i-1, 0)]
			segment(&near, q.X*MapUnit+MapPad, q.Y*MapUnit+MapPad, p.X*MapUnit+MapPad, p.Y*MapUnit+MapPad)
		}
	}
	var m Map
	for i, d := range near {
		m.Pix[i] = byte(d/MapFar*255 + 0.5)
	}
	m.Wide = byte(math.Min(MapW-2*MapPad, math.Max(1, math.Round(g.Width*MapUnit))))
	return m
}

func segment(near *[MapW * MapH]float64, ax, ay, bx, by float64) {
	x0, x1 := max(0, int(math.Min(ax, bx)-MapFar)), min(MapW-1, int(math.Max(ax, bx)+MapFar)+1)
	y0, y1 := max(0, int(math.Min(ay, by)-MapFar)), min(MapH-1, int(math.Max(ay, by)+MapFar)+1)
	dx, dy := bx-ax, by-ay
	n := math.Max(1e-9, dx*dx+dy*dy)
	for y := y0; y <= y1; y++ {
		for x := x0; x <= x1; x++ {
			// Pixel (x, y) covers x to x+1: its middle is half a px further.
			ex, ey := float64(x)+0.5-ax, float64(y)+0.5-ay
			t := math.Max(0, math.Min(1, (ex*dx+ey*dy)/n))
			i := y*MapW + x
			near[i] = math.Min(near[i], math.Hypot(ex-t*dx, ey-t*dy))
		}
	}
}
