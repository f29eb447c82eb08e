package scan

import (
	"math"

	"gatefold/sheetmodel"
)

// sheetMap is the map from the sheet to the photo: paper bends, then a flat sheet is seen.
type sheetMap struct {
	flat homography
	bend displacement
}

// displacement says by how many mm each point of the sheet lies elsewhere than on a flat sheet.
type displacement interface {
	at(p sheetmodel.SheetPoint) (dx, dy float64)
}

func (m *sheetMap) at(p sheetmodel.SheetPoint) sheetmodel.PhotoPoint {
	dx, dy := m.bend.at(p)
	return m.flat.at(sheetmodel.SheetPoint{X: p.X + sheetmodel.MM(dx), Y: p.Y + sheetmodel.MM(dy)})
}

// tangent is the map near one place, in px of a level: x = x0 + xu·u + xv·v for u, v in mm.
type tangent struct{ x0, xu, xv, y0, yu, yv float64 }

func (m *sheetMap) tangent(v *view, c sheetmodel.SheetPoint) tangent {
	const d = 2 // mm: about half a patch
	x0, y0 := v.local(m.at(c))
	xa, ya := v.local(m.at(sheetmodel.SheetPoint{X: c.X - d, Y: c.Y}))
	xb, yb := v.local(m.at(sheetmodel.SheetPoint{X: c.X + d, Y: c.Y}))
	xc, yc := v.local(m.at(sheetmodel.SheetPoint{X: c.X, Y: c.Y - d}))
	xd, yd := v.local(m.at(sheetmodel.SheetPoint{X: c.X, Y: c.Y + d}))
	return tangent{x0: x0, xu: (xb - xa) / (2 * d), xv: (xd - xc) / (2 * d), y0: y0, yu: (yb - ya) / (2 * d), yv: (yd - yc) / (2 * d)}
}

func (t *tangent) at(u, v float64) (x, y float64) {
	return t.x0 + t.xu*u + t.xv*v, t.y0 + t.yu*u + t.yv*v
}

// inside reports whether the place and margin mm round it lie within the level.
func (t *tangent) inside(v *view, margin float64) bool {
	rx, ry := margin*math.Hypot(t.xu, t.xv), margin*math.Hypot(t.yu, t.yv)
	return t.x0 >= rx && t.y0 >= ry && t.x0 <= float64(v.w-1)-rx && t.y0 <= float64(v.h-1)-ry
}

// search returns the shift, in mm, at which the patch fits best on the coarse net, and how well (-1 to 1). room is
// what it works in, of coarseRoom.
func (p *patch) search(v *view, m *sheetMap, room []float32) (dx, dy, score float64) {
	t := m.tangent(v, p.center)
	sums, squares, crosses := correlate(v, &t, p.coarse, room)
	n := float32(len(p.coarse))
	score = -2
	best := math.Inf(-1)
	for sy := -coarseReach; sy <= coarseReach; sy++ {
		for sx := -coarseReach; sx <= coarseReach; sx++ {
			i := (sy+coarseReach)*shiftLanes + sx + coarseReach
			spread := squares[i]/n - sums[i]/n*sums[i]/n
			if spread < 4 {
				continue // flat: 2 grey levels of noise
			}
			ncc := -float64(crosses[i]/n) / math.Sqrt(float64(spread))
			// Along a line all shifts fit alike; of those the smallest is taken.
			if v := ncc - 0.002*float64(sx*sx+sy*sy); v > best {
				best, score, dx, dy = v, ncc, float64(sx)/coarsePxPer, float64(sy)/coarsePxPer
			}
		}
	}
	return dx, dy, score
}

// refine moves a shift to where the patch fits best, by less than 1 mm, and returns it with its inverse
// covariance and how well it fits (-1 to 1).
func (p *patch) refine(v *view, m *sheetMap, dx, dy float64) (sx, sy float64, info [3]float64, score float64) {
	t := m.tangent(v, p.center)
	// A little stiffness stops the walk along a line, where the print says nothing.
	soft := 0.01 * (p.hess[0] + p.hess[2])
	x, y, noise, score, ok := seekFine(v, &t, p.fine, [3]float64{p.hess[0] + soft, p.hess[1], p.hess[2] + soft}, dx, dy)
	if !ok {
		return dx, dy, info, -1
	}
	return x, y, p.information(noise), score
}

// Errors of neighbouring px are alike (blur, shade, a stroke), so fewer of them count than there are;
// and no place is known better than print and paper allow.
const (
	alikePx   = 8.0
	bestSigma = 0.04 // mm
)

// information returns the inverse covariance of a shift whose residuals have the variance noise.
func (p *patch) information(noise float64) [3]float64 {
	const eps = 1e-3
	k := noise * alikePx
	hxx, hxy, hyy := p.hess[0]/k+eps, p.hess[1]/k, p.hess[2]/k+eps
	// (H⁻¹ + bestSigma²·1)⁻¹ = (1 + bestSigma²·H)⁻¹ · H
	b := bestSigma * bestSigma
	cxx, cyy := hyy, hxx // adjugate of H
	det := hxx*hyy - hxy*hxy
	vxx, vxy, vyy := cxx/det+b, -hxy/det, cyy/det+b
	d := vxx*vyy - vxy*vxy
	return [3]float64{vyy / d, -vxy / d, vxx / d}
}
