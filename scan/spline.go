package scan

import (
	"errors"
	"math"

	"gatefold/sheetmodel"
)

// How the paper differs from a flat sheet: a smooth displacement in mm, as uniform cubic B-splines in
// x and y over a net of control points.
//
//	Σ over observations  robust( (D(p) - d)ᵀ · info · (D(p) - d) )  +  stiffness · bending energy
//
// An observation of print with lines in one direction only says nothing along them; its information
// matrix is near zero that way, so the lines' neighbours decide (the aperture problem needs no other care).
// Normal equations are banded (control points run along the shorter side): 650 unknowns cost 5 ms.
//
// Source: penalised splines, Eilers & Marx, Statistical Science 11 (1996); robust weights as in
// Geman & McClure, Bull. Int. Stat. Inst. 52 (1987).
type spline struct {
	spacing float64
	nx, ny  int
	cx, cy  []float64 // mm, control points, row by row of nx
	factor  banded    // of the last fit, for errors
}

// observation says where print of the sheet was seen: at p the displacement is d.
type observation struct {
	p    sheetmodel.SheetPoint
	d    [2]float64 // mm
	info [3]float64 // xx, xy, yy of the inverse covariance, 1/mm²
	keep float64    // robust weight after the fit, 0 to 1
}

var (
	errSingular = errors.New("displacement can't be fitted: too few places seen")
	errStrange  = errors.New("the print leads past marks that should lie on it")
)

func newSpline(w, h sheetmodel.MM, spacing float64) *spline {
	s := &spline{spacing: spacing}
	s.nx = int(math.Ceil(float64(w)/spacing)) + 3
	s.ny = int(math.Ceil(float64(h)/spacing)) + 3
	s.cx, s.cy = make([]float64, s.nx*s.ny), make([]float64, s.nx*s.ny)
	return s
}

// basis returns the first control point that touches u and the four weights.
func (s *spline) basis(u sheetmodel.MM, n int) (first int, b [4]float64) {
	t := float64(u) / s.spacing
	first = min(max(int(math.Floor(t)), 0), n-4)
	t -= float64(first)
	t2, t3 := t*t, t*t*t
	b[0] = (1 - 3*t + 3*t2 - t3) / 6
	b[1] = (4 - 6*t2 + 3*t3) / 6
	b[2] = (1 + 3*t + 3*t2 - 3*t3) / 6
	b[3] = t3 / 6
	return first, b
}

// at returns the displacement at p, mm.
func (s *spline) at(p sheetmodel.SheetPoint) (dx, dy float64) {
	ix, bx := s.basis(p.X, s.nx)
	iy, by := s.basis(p.Y, s.ny)
	for j := range 4 {
		row := (iy+j)*s.nx + ix
		for i := range 4 {
			b := bx[i] * by[j]
			dx += b * s.cx[row+i]
			dy += b * s.cy[row+i]
		}
	}
	return dx, dy
}

// splineRow is a spline along one y: many points of a row cost a quarter that way.
type splineRow struct {
	s      *spline
	cx, cy []float64
}

func (s *spline) row() splineRow {
	return splineRow{s, make([]float64, s.nx), make([]float64, s.nx)}
}

// to moves the row to another y.
func (r *splineRow) to(y sheetmodel.MM) {
	iy, by := r.s.basis(y, r.s.ny)
	clear(r.cx)
	clear(r.cy)
	for j, b := range by {
		at := (iy + j) * r.s.nx
		for i := range r.cx {
			r.cx[i] += b * r.s.cx[at+i]
			r.cy[i] += b * r.s.cy[at+i]
		}
	}
}

// at returns the displacement at x, mm.
func (r *splineRow) at(x sheetmodel.MM) (dx, dy float64) {
	ix, bx := r.s.basis(x, r.s.nx)
	for i, b := range bx {
		dx += b * r.cx[ix+i]
		dy += b * r.cy[ix+i]
	}
	return dx, dy
}

// fit finds the control points and sets each observation's robust weight. tolerances are the
// residuals, in standard deviations, at which an observation's weight falls to a quarter; one pass for each.
func (s *spline) fit(obs []observation, stiffness float64, tolerances ...float64) error {
	for i := range obs {
		obs[i].keep = 1
	}
	for k, tol := range append([]float64{math.Inf(1)}, tolerances...) {
		if k > 0 {
			for i := range obs {
				obs[i].keep = robust(obs[i].miss(s), tol)
			}
		}
		if err := s.solve(obs, stiffness, k > 0); err != nil {
			return err
		}
	}
	return nil
}

// refit is fit for observations that another map of the same paper fits already: weights and folds are taken
// from it, so that one pass is enough.
func (s *spline) refit(obs []observation, stiffness, tolerance float64, known displacement) error {
	for i := range obs {
		obs[i].keep = robust(obs[i].miss(known), tolerance)
	}
	for y := range s.ny {
		for x := range s.nx {
			// A control point's coefficient is about what the spline is beside it.
			i := y*s.nx + x
			s.cx[i], s.cy[i] = known.at(sheetmodel.SheetPoint{X: sheetmodel.MM(float64(x-1) * s.spacing), Y: sheetmodel.MM(float64(y-1) * s.spacing)})
		}
	}
	return s.solve(obs, stiffness, true)
}

func robust(miss2, tol float64) float64 {
	q := 1 / (1 + miss2/(tol*tol))
	return q * q
}

// miss returns the squared residual in standard deviations.
func (o *observation) miss(s displacement) float64 {
	dx, dy := s.at(o.p)
	dx, dy = dx-o.d[0], dy-o.d[1]
	return o.info[0]*dx*dx + 2*o.info[1]*dx*dy + o.info[2]*dy*dy
}

func (s *spline) solve(obs []observation, stiffness float64, folds bool) error {
	n := 2 * s.nx * s.ny
	a := newBanded(n, 2*(3*s.nx+3)+1)
	rhs := make([]float64, n)
	for k := range obs {
		o := &obs[k]
		if o.keep < 1e-6 {
			continue
		}
		ix, bx := s.basis(o.p.X, s.nx)
		iy, by := s.basis(o.p.Y, s.ny)
		var index [16]int
		var b [16]float64
		for j := range 4 {
			for i := range 4 {
				index[4*j+i] = 2 * ((iy+j)*s.nx + ix + i)
				b[4*j+i] = bx[i] * by[j]
			}
		}
		xx, xy, yy := o.keep*o.info[0], o.keep*o.info[1], o.keep*o.info[2]
		for i, bi := range b {
			r := index[i]
			rhs[r] += bi * (xx*o.d[0] + xy*o.d[1])
			rhs[r+1] += bi * (xy*o.d[0] + yy*o.d[1])
			for j := 0; j <= i; j++ {
				c, w := index[j], bi*b[j]
				a.add(r, c, w*xx)
				a.add(r+1, c, w*xy)
				a.add(r+1, c+1, w*yy)
				if i != j {
					a.add(r, c+1, w*xy)
				}
			}
		}
	}
	s.bend(a, stiffness/(s.spacing*s.spacing), folds)
	for i := range n {
		a.add(i, i, 1e-6) // corners of the net that nothing touches
	}
	if !a.cholesky() {
		return errSingular
	}
	a.solve(rhs)
	for i := range s.cx {
		s.cx[i], s.cy[i] = rhs[2*i], rhs[2*i+1]
	}
	s.factor = *a
	return nil
}

// foldCurvature is where paper counts as folded: bent paper of the levels stays below, 1/mm.
const (
	foldCurvature = 0.002
	leastStiff    = 0.2 // of the stiffness that a fold keeps: paper that nothing was seen of must not fly away
)

// bend adds the bending energy: squared second differences along x, along y, and mixed. With folds,
// differences that the last solution shows to be large count less, as outliers do: a sharp fold is
// followed instead of being ironed out over its neighbourhood.
func (s *spline) bend(a *banded, weight float64, folds bool) {
	add := func(w float64, index []int, coef []float64) {
		if folds {
			var x, y float64
			for i, k := range index {
				x += coef[i] * s.cx[k]
				y += coef[i] * s.cy[k]
			}
			limit := foldCurvature * s.spacing * s.spacing
			w *= max(leastStiff, 1/(1+(x*x+y*y)/(limit*limit)))
		}
		for i := range index {
			for j := range index {
				if index[j] <= index[i] {
					a.add(2*index[i], 2*index[j], w*coef[i]*coef[j])
					a.add(2*index[i]+1, 2*index[j]+1, w*coef[i]*coef[j])
				}
			}
		}
	}
	for y := range s.ny {
		for x := range s.nx {
			i := y*s.nx + x
			if x+2 < s.nx {
				add(weight, []int{i, i + 1, i + 2}, []float64{1, -2, 1})
			}
			if y+2 < s.ny {
				add(weight, []int{i, i + s.nx, i + 2*s.nx}, []float64{1, -2, 1})
			}
			if x+1 < s.nx && y+1 < s.ny {
				add(2*weight, []int{i, i + 1, i + s.nx, i + s.nx + 1}, []float64{1, -1, -1, 1})
			}
		}
	}
}

// sigma returns the standard deviation, in mm, that the last fit claims for the displacement at p.
func (s *spline) sigma(p sheetmodel.SheetPoint) float64 {
	ix, bx := s.basis(p.X, s.nx)
	iy, by := s.basis(p.Y, s.ny)
	b := make([]float64, s.factor.n)
	// One solve for x stands for both: the larger of the two is what counts, and they hardly differ.
	worst := 0.0
	for axis := range 2 {
		clear(b)
		for j := range 4 {
			for i := range 4 {
				b[2*((iy+j)*s.nx+ix+i)+axis] = bx[i] * by[j]
			}
		}
		worst = max(worst, s.factor.norm(b, 2*(iy*s.nx+ix)))
	}
	return math.Sqrt(worst)
}
