package camera

import "math"

// meshStep and meshRim are the distance of a mesh's nodes and how far it reaches beyond the sheet, mm.
const (
	meshStep = 2.0
	meshRim  = 30.0
)

// mesh is a sheet whose shape no formula gives: the place in space of a grid of its points, with cubic
// curves between. Lengths on the paper are kept to a few thousandths, in the worst crumples to a hundredth: a
// test measures it.
type mesh struct {
	nx, ny int
	x0, y0 float64      // of node 0 on the flat sheet, from its middle
	at3    [][3]float64 // px, py, h
	normal [][3]float32
	worn   []float32 // 0 to 1, where the paper is creased sharply
	sun    []float32 // signed distance to the shadow that the sheet throws on itself, in widths of its edge
}

// newMesh lays the relief over the bent sheet and lets the paper slide until its lengths are right again.
func newMesh(base *surface, relief func(x, y float64) float64, flat bool) *mesh {
	m := &mesh{nx: int(math.Ceil((base.w+2*meshRim)/meshStep)) + 1, ny: int(math.Ceil((base.h+2*meshRim)/meshStep)) + 1}
	m.x0, m.y0 = -float64(m.nx-1)*meshStep/2, -float64(m.ny-1)*meshStep/2
	m.at3 = make([][3]float64, m.nx*m.ny)
	raised := make([]float64, len(m.at3))
	for j := range m.ny {
		for i := range m.nx {
			x, y := m.x0+float64(i)*meshStep, m.y0+float64(j)*meshStep
			px, py, h := base.at(x, y)
			if !flat {
				raised[j*m.nx+i] = relief(x, y)
			}
			m.at3[j*m.nx+i] = [3]float64{px, py, h + raised[j*m.nx+i]}
		}
	}
	if !flat {
		m.drawIn(raised)
		for range 40 {
			m.relax()
		}
	}
	lo := math.Inf(1)
	for j := range m.ny {
		for i := range m.nx {
			if m.onSheet(i, j, base) {
				lo = math.Min(lo, m.at3[j*m.nx+i][2])
			}
		}
	}
	for i := range m.at3 {
		m.at3[i][2] -= lo
	}
	m.shade()
	return m
}

func (m *mesh) onSheet(i, j int, base *surface) bool {
	x, y := m.x0+float64(i)*meshStep, m.y0+float64(j)*meshStep
	return math.Abs(x) <= base.w/2+meshStep/2 && math.Abs(y) <= base.h/2+meshStep/2
}

// drawIn moves nodes towards the middle by what the relief's slopes use up of the paper, evened out
// between neighbouring rows and columns: relax has to do the rest only.
func (m *mesh) drawIn(raised []float64) {
	used := func(d float64) float64 {
		if math.Abs(d) > 0.9*meshStep {
			d = 0.9 * meshStep
		}
		return meshStep - math.Sqrt(meshStep*meshStep-d*d)
	}
	shift := make([]float64, len(m.at3))
	evened := func(axis, along, across, stepAlong, stepAcross int) {
		for r := range across {
			sum := 0.0
			for _, dir := range []int{1, -1} {
				sum = 0
				for k := along / 2; k+dir >= 0 && k+dir < along; k += dir {
					a, b := r*stepAcross+k*stepAlong, r*stepAcross+(k+dir)*stepAlong
					sum += used(raised[b] - raised[a])
					shift[b] = -float64(dir) * sum
				}
			}
			shift[r*stepAcross+along/2*stepAlong] = 0
		}
		const reach = 6
		for r := range across {
			for k := range along {
				sum, n := 0.0, 0.0
				for d := max(0, r-reach); d <= min(across-1, r+reach); d++ {
					sum, n = sum+shift[d*stepAcross+k*stepAlong], n+1
				}
				m.at3[r*stepAcross+k*stepAlong][axis] += sum / n
			}
		}
	}
	evened(0, m.nx, m.ny, 1, m.nx)
	evened(1, m.ny, m.nx, m.nx, 1)
}

// relax moves each pair of neighbours, and of neighbours across, to their length on the paper once.
func (m *mesh) relax() {
	pull := func(a, b int, length, share float64) {
		p, q := &m.at3[a], &m.at3[b]
		dx, dy, dz := q[0]-p[0], q[1]-p[1], q[2]-p[2]
		d := math.Sqrt(dx*dx + dy*dy + dz*dz)
		k := share * (d - length) / d / 2
		p[0], p[1], p[2] = p[0]+k*dx, p[1]+k*dy, p[2]+k*dz
		q[0], q[1], q[2] = q[0]-k*dx, q[1]-k*dy, q[2]-k*dz
	}
	for j := range m.ny {
		for i := range m.nx {
			at := j*m.nx + i
			if i+1 < m.nx {
				pull(at, at+1, meshStep, 1)
			}
			if j+1 < m.ny {
				pull(at, at+m.nx, meshStep, 1)
			}
			if i+1 < m.nx && j+1 < m.ny {
				pull(at, at+m.nx+1, meshStep*math.Sqrt2, 0.7)
				pull(at+1, at+m.nx, meshStep*math.Sqrt2, 0.7)
			}
		}
	}
}

// shade computes each node's normal, and how sharply the paper is bent there.
func (m *mesh) shade() {
	m.normal, m.worn = make([][3]float32, len(m.at3)), make([]float32, len(m.at3))
	for j := range m.ny {
		for i := range m.nx {
			l, r := m.at3[j*m.nx+max(i-1, 0)], m.at3[j*m.nx+min(i+1, m.nx-1)]
			u, d := m.at3[max(j-1, 0)*m.nx+i], m.at3[min(j+1, m.ny-1)*m.nx+i]
			a := [3]float64{r[0] - l[0], r[1] - l[1], r[2] - l[2]}
			b := [3]float64{d[0] - u[0], d[1] - u[1], d[2] - u[2]}
			n := [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
			k := 1 / math.Sqrt(n[0]*n[0]+n[1]*n[1]+n[2]*n[2])
			at := j*m.nx + i
			m.normal[at] = [3]float32{float32(n[0] * k), float32(n[1] * k), float32(n[2] * k)}
			c := m.at3[at][2]
			bend := (math.Abs(l[2]+r[2]-2*c) + math.Abs(u[2]+d[2]-2*c)) / meshStep // radians turned at this node
			m.worn[at] = float32(smoothstep((bend - 0.08) / 0.5))
		}
	}
}

// cubic returns the weights of four nodes at t between the middle two (Catmull-Rom).
func cubic(t float64) [4]float64 {
	t2, t3 := t*t, t*t*t
	return [4]float64{-0.5*t3 + t2 - 0.5*t, 1.5*t3 - 2.5*t2 + 1, -1.5*t3 + 2*t2 + 0.5*t, 0.5*t3 - 0.5*t2}
}

// at returns where the point (x, y) of the flat sheet, from its middle, lies in space.
func (m *mesh) at(x, y float64) (px, py, h float64) {
	fx, fy := (x-m.x0)/meshStep, (y-m.y0)/meshStep
	// Beyond the mesh the table goes on flat.
	cx, cy := max(1, min(float64(m.nx-2)-1e-9, fx)), max(1, min(float64(m.ny-2)-1e-9, fy))
	i, j := int(cx), int(cy)
	wx, wy := cubic(cx-float64(i)), cubic(cy-float64(j))
	for b := range 4 {
		row := m.at3[(j+b-1)*m.nx+i-1 : (j+b-1)*m.nx+i+3]
		px += wy[b] * (wx[0]*row[0][0] + wx[1]*row[1][0] + wx[2]*row[2][0] + wx[3]*row[3][0])
		py += wy[b] * (wx[0]*row[0][1] + wx[1]*row[1][1] + wx[2]*row[2][1] + wx[3]*row[3][1])
		h += wy[b] * (wx[0]*row[0][2] + wx[1]*row[1][2] + wx[2]*row[2][2] + wx[3]*row[3][2])
	}
	return px + (fx-cx)*meshStep, py + (fy-cy)*meshStep, h
}

// between returns the four nodes around a point, from the sheet's middle, and their shares.
func (m *mesh) between(x, y float64) (at [4]int, share [4]float32) {
	fx, fy := (x-m.x0)/meshStep, (y-m.y0)/meshStep
	fx, fy = max(0, min(float64(m.nx-1)-1e-9, fx)), max(0, min(float64(m.ny-1)-1e-9, fy))
	i, j := int(fx), int(fy)
	tx, ty := float32(fx-float64(i)), float32(fy-float64(j))
	a := j*m.nx + i
	return [4]int{a, a + 1, a + m.nx, a + m.nx + 1}, [4]float32{(1 - tx) * (1 - ty), tx * (1 - ty), (1 - tx) * ty, tx * ty}
}

// selfShadow marches from each node towards the sun and keeps how clear of the paper the way is.
func (m *mesh) selfShadow(elevation, azimuth float64) {
	m.sun = make([]float32, len(m.at3))
	sin, cos := math.Sincos(azimuth)
	rise, top := math.Tan(elevation), m.top()
	for j := range m.ny {
		for i := range m.nx {
			worst := 9.0
			m.march(i, j, cos, sin, rise, top, func(gap, way float64) {
				worst = math.Min(worst, gap/(0.25+sunWidth*way))
			})
			m.sun[j*m.nx+i] = float32(worst)
		}
	}
}

// behindItself returns for each node whether the sheet itself stands between it and the camera.
func (m *mesh) behindItself(toCamera func(x, y float64) [3]float64) []bool {
	out := make([]bool, len(m.at3))
	top := m.top()
	for j := range m.ny {
		for i := range m.nx {
			d := toCamera(m.x0+float64(i)*meshStep, m.y0+float64(j)*meshStep)
			flat := math.Hypot(d[0], d[1])
			if flat < 1e-6 {
				continue
			}
			n := m.normal[j*m.nx+i]
			hidden := float64(n[0])*d[0]+float64(n[1])*d[1]+float64(n[2])*d[2] < 0.05
			m.march(i, j, d[0]/flat, d[1]/flat, d[2]/flat, top, func(gap, _ float64) { hidden = hidden || gap < 0 })
			out[j*m.nx+i] = hidden
		}
	}
	return out
}

func (m *mesh) top() float64 {
	top := 0.0
	for _, p := range m.at3 {
		top = math.Max(top, p[2])
	}
	return top
}

// march goes from a node in a direction that rises by rise, step by step until it is above all paper, and
// tells how far above the paper it is and how far it went, mm.
func (m *mesh) march(i, j int, cos, sin, rise, top float64, at func(gap, way float64)) {
	start := m.at3[j*m.nx+i]
	for t := 1.0; start[2]+t*meshStep*rise < top+0.2; t += 0.5 {
		// The place in space, and the place on the sheet that lies there: paper is drawn in where it is bent.
		x, y := start[0]+t*meshStep*cos, start[1]+t*meshStep*sin
		fx, fy := (x-m.x0)/meshStep, (y-m.y0)/meshStep
		for range 2 {
			k, l := int(fx), int(fy)
			if fx < 0 || fy < 0 || k >= m.nx-1 || l >= m.ny-1 {
				return
			}
			p := m.at3[l*m.nx+k]
			fx, fy = float64(k)+(x-p[0])/meshStep, float64(l)+(y-p[1])/meshStep
		}
		k, l := int(fx), int(fy)
		if fx < 0 || fy < 0 || k >= m.nx-1 || l >= m.ny-1 {
			return
		}
		tx, ty := fx-float64(k), fy-float64(l)
		a, b := m.at3[l*m.nx+k:l*m.nx+k+2], m.at3[(l+1)*m.nx+k:(l+1)*m.nx+k+2]
		o := (a[0][2]*(1-tx)+a[1][2]*tx)*(1-ty) + (b[0][2]*(1-tx)+b[1][2]*tx)*ty
		at(start[2]+t*meshStep*rise-o, t*meshStep)
	}
}
