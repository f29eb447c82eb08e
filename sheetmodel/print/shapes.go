package print

import (
	"math"

	"gatefold/sheetmodel"
)

// point is a place on the drawing in mm; on a side it is a sheetmodel.SheetPoint, on a page of
// paper it counts from the page's top left corner.
type point struct{ x, y float64 }

// shape is one thing to draw. Exactly one of polys and text is used. grey runs from 0, black, to 1.
type shape struct {
	grey  float64
	polys [][]point // filled as one, by the non-zero rule
	text  string
	face  sheetmodel.Face
	at    point   // left end of the text's baseline
	size  float64 // height of a capital, mm
	turn  float64 // degrees clockwise about at
}

// canvas collects shapes.
type canvas struct{ shapes []shape }

func (c *canvas) fill(grey float64, polys ...[]point) {
	c.shapes = append(c.shapes, shape{grey: grey, polys: polys})
}

func box(r sheetmodel.Rect) []point {
	x0, y0, x1, y1 := float64(r.X), float64(r.Y), float64(r.X+r.W), float64(r.Y+r.H)
	return []point{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}
}

// outline draws the border of r, its middle on r's edge.
func (c *canvas) outline(r sheetmodel.Rect, width, grey float64) {
	h := sheetmodel.MM(width / 2)
	outer, inner := box(r.Grow(h)), box(r.Grow(-h))
	inner[1], inner[3] = inner[3], inner[1] // the other way round: a hole
	c.fill(grey, outer, inner)
}

// line draws straight pieces of the given width with square ends.
func (c *canvas) line(ps []point, width, grey float64) {
	var polys [][]point
	for i := 1; i < len(ps); i++ {
		a, b := ps[i-1], ps[i]
		dx, dy := b.x-a.x, b.y-a.y
		n := math.Hypot(dx, dy)
		if n == 0 {
			continue
		}
		dx, dy = dx/n*width/2, dy/n*width/2
		polys = append(polys, []point{
			{a.x - dx + dy, a.y - dy - dx}, {b.x + dx + dy, b.y + dy - dx},
			{b.x + dx - dy, b.y + dy + dx}, {a.x - dx - dy, a.y - dy + dx},
		})
	}
	c.fill(grey, polys...)
}

// write draws text whose anchor, by align, is at.
func (c *canvas) write(text string, at point, size float64, face sheetmodel.Face, align sheetmodel.Align, turn, grey float64) {
	if text == "" {
		return
	}
	shift := 0.0
	switch w := float64(sheetmodel.TextWidth(text, face, sheetmodel.MM(size))); align {
	case sheetmodel.AlignCenter:
		shift = -w / 2
	case sheetmodel.AlignRight:
		shift = -w
	case sheetmodel.AlignLeft:
	}
	s, k := math.Sincos(turn * math.Pi / 180)
	at.x, at.y = at.x+shift*k, at.y+shift*s
	c.shapes = append(c.shapes, shape{grey: grey, text: text, face: face, at: at, size: size, turn: turn})
}

// placed returns the shapes turned clockwise by turn degrees about the origin, then moved by dx, dy.
func placed(shapes []shape, dx, dy, turn float64) []shape {
	s, k := math.Sincos(turn * math.Pi / 180)
	if math.Mod(turn, 90) == 0 { // exact, so that squares stay squares
		s, k = math.Round(s), math.Round(k)
	}
	move := func(p point) point { return point{p.x*k - p.y*s + dx, p.x*s + p.y*k + dy} }
	out := make([]shape, len(shapes))
	for i, sh := range shapes {
		sh.at = move(sh.at)
		sh.turn += turn
		polys := make([][]point, len(sh.polys))
		for j, poly := range sh.polys {
			polys[j] = make([]point, len(poly))
			for n, p := range poly {
				polys[j][n] = move(p)
			}
		}
		sh.polys = polys
		out[i] = sh
	}
	return out
}

// sincosTurn returns sine and cosine of a share of a full turn.
func sincosTurn(share float64) (sin, cos float64) { return math.Sincos(2 * math.Pi * share) }
