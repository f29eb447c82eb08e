package ocr

import (
	"math"

	"gatefold/sheetmodel"
)

// place is where the writing of a comb stands, seen from the boxes it was meant for.
type place struct {
	beside float64 // how far its ink stands from the middles of the boxes it is nearest to: 0 to 0.5 of a box
	below  float64 // how far the middle of its height is below the comb's, mm
	area   float64 // of its ink, mm²
}

// placeOf looks at the pieces that stand in a comb. Which box a stroke belongs to is not asked: ink is laid
// box over box, so that digits that touch, and digits half a box off, have a place too.
func (m *inkMap) placeOf(own []piece, comb sheetmodel.Rect, boxes int) place {
	boxW := float64(comb.W) / float64(boxes)
	var p place
	var cos, sin float64
	var all sheetmodel.Rect
	for k, q := range own {
		if k == 0 {
			all = q.rect()
		}
		all = all.Union(q.rect())
		p.area += q.area
		for _, i := range q.px {
			turn := 2 * math.Pi * ((float64(i%m.w)+0.5)/inkPxPerMM - float64(comb.X)) / boxW
			cos, sin = cos-math.Cos(turn), sin-math.Sin(turn)
		}
	}
	if p.area == 0 {
		return p
	}
	p.beside = math.Abs(math.Atan2(sin, cos)) / (2 * math.Pi)
	p.below = float64(all.Y+all.H/2) - float64(comb.Y+comb.H/2)
	return p
}

// usualBelow is how far below the middles of their combs the writings of a page stand, mm: 0 where there are
// too few to tell.
func usualBelow(all []place) float64 {
	var below []float64
	for _, p := range all {
		if p.area >= leastDigitMM2 {
			below = append(below, p.below)
		}
	}
	if len(below) <= leastDigits {
		return 0
	}
	return median(below)
}

// Weights and limit of what makes a writing stand outside its boxes: between them, or higher or lower than the
// writer's others. Chosen on bibs of calibration writers, see report.md.
const (
	placeBeside = 12.0 // for a whole box
	placeBelow  = 2.5  // for a mm
	placeLimit  = 6.0  // 0.5 box beside, or 0.1 box and 1.9 mm: one well written bib in 200
)

// astray reports whether a writing stands outside its boxes although its ink may touch no edge.
func (p place) astray(usual float64) bool {
	return p.area > 0 && placeBeside*p.beside+placeBelow*math.Abs(p.below-usual) > placeLimit
}
