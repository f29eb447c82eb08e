package scan

import (
	"math"

	"gatefold/sheetmodel"
)

// affine is the displacement of a small flat piece of paper round c.
type affine struct {
	c sheetmodel.SheetPoint
	v [6]float64 // dx = v0 + v1·u + v2·v, dy = v3 + v4·u + v5·v, in mm and mm per mm
}

func (a affine) at(p sheetmodel.SheetPoint) (dx, dy float64) {
	u, v := float64(p.X-a.c.X), float64(p.Y-a.c.Y)
	return a.v[0] + a.v[1]*u + a.v[2]*v, a.v[3] + a.v[4]*u + a.v[5]*v
}

// fitAffine fits a piece of paper to observations, outliers counting less. Where they don't fix a slope
// it stays that of their surroundings on average, which a weak pull towards zero slope stands for.
func fitAffine(c sheetmodel.SheetPoint, obs []observation) (a affine, ok bool) {
	a.c = c
	for pass := range 3 {
		var m [6][6]float64 // the lower half
		var rhs [6]float64
		for i := range obs {
			o := &obs[i]
			k := 1.0
			if pass > 0 {
				dx, dy := a.at(o.p)
				dx, dy = dx-o.d[0], dy-o.d[1]
				// In mm, not in standard deviations: a match may be off by a mm on paper that folds.
				k = 1 / (1 + (dx*dx+dy*dy)/(0.5*0.5))
			}
			b := [3]float64{1, float64(o.p.X - c.X), float64(o.p.Y - c.Y)}
			for r := range 3 {
				rhs[r] += k * b[r] * (o.info[0]*o.d[0] + o.info[1]*o.d[1])
				rhs[3+r] += k * b[r] * (o.info[1]*o.d[0] + o.info[2]*o.d[1])
				for q := range 3 {
					w := k * b[r] * b[q]
					if q <= r {
						m[r][q] += w * o.info[0]
						m[3+r][3+q] += w * o.info[2]
					}
					m[3+r][q] += w * o.info[1]
				}
			}
		}
		for i := range 6 {
			pull := 1e-6
			if i%3 > 0 {
				pull = 1 / (0.5 * 0.5) // slopes up to one half
			}
			m[i][i] += pull
		}
		if a.v, ok = solveSix(&m, rhs); !ok {
			return a, false
		}
	}
	for _, v := range a.v {
		if math.IsNaN(v) || math.Abs(v) > 200 {
			return a, false
		}
	}
	return a, true
}

// solveSix returns x with m·x = rhs for a positive definite m, of which the lower half is read and spoilt.
func solveSix(m *[6][6]float64, x [6]float64) ([6]float64, bool) {
	for i := range 6 {
		for j := range i + 1 {
			sum := m[i][j]
			for k := range j {
				sum -= m[i][k] * m[j][k]
			}
			if j < i {
				m[i][j] = sum / m[j][j]
				continue
			}
			if !(sum > 0) {
				return x, false
			}
			m[i][i] = math.Sqrt(sum)
		}
		for k := range i {
			x[i] -= m[i][k] * x[k]
		}
		x[i] /= m[i][i]
	}
	for i := 5; i >= 0; i-- {
		for k := i + 1; k < 6; k++ {
			x[i] -= m[k][i] * x[k]
		}
		x[i] /= m[i][i]
	}
	return x, true
}
