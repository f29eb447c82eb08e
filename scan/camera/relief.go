package camera

import (
	"math"
	"math/rand/v2"
)

// Relief is what lies in the paper's height beyond its Bend.
type Relief struct {
	Creases   []Crease `json:"creases,omitempty"`
	CrumpleMM float64  `json:"crumple_mm"` // highest minus lowest point of the crumples
	FacetMM   float64  `json:"facet_mm"`   // size of the larger facets
	CockleMM  float64  `json:"cockle_mm"`  // height of waves where the paper is wet
	Seed      uint64   `json:"seed"`
}

// Crease is a fold that was flattened again: a line at At mm from the middle, square to DirDeg, with the
// angle Deg left in it. A second crease turns over where it crosses the first, as a sheet folded twice.
type Crease struct {
	DirDeg float64 `json:"dir_deg"`
	At     float64 `json:"at"`
	Deg    float64 `json:"deg"` // negative for a valley
}

// off is the distance of a point, from the middle, to the crease's line.
func (c Crease) off(x, y float64) float64 {
	sin, cos := math.Sincos(c.DirDeg * math.Pi / 180)
	return x*cos + y*sin - c.At
}

func (r *Relief) flat() bool { return len(r.Creases) == 0 && r.CrumpleMM == 0 && r.CockleMM == 0 }

// heights returns the relief's height at any point from the sheet's middle.
func (r *Relief) heights(w, h float64, wet func(x, y float64) float64) func(x, y float64) float64 {
	var parts []func(x, y float64) float64
	for i, c := range r.Creases {
		slope := math.Tan(c.Deg * math.Pi / 360)
		// Rounded over a millimetre or so, as card is.
		ridge := func(x, y float64) float64 { return -slope * (math.Hypot(c.off(x, y), 0.7) - 0.7) }
		if i == 0 {
			parts = append(parts, ridge)
			continue
		}
		first := r.Creases[0]
		parts = append(parts, func(x, y float64) float64 { return ridge(x, y) * math.Tanh(first.off(x, y)/45) })
	}
	if r.CrumpleMM > 0 {
		large, small := newFacets(w, h, r.FacetMM, r.Seed), newFacets(w, h, r.FacetMM*0.42, r.Seed+1)
		lo, hi := math.Inf(1), math.Inf(-1)
		both := func(x, y float64) float64 { return large.at(x, y) + 0.35*small.at(x, y) }
		for y := -h / 2; y <= h/2; y += 4 {
			for x := -w / 2; x <= w/2; x += 4 {
				v := both(x, y)
				lo, hi = min(lo, v), max(hi, v)
			}
		}
		k := r.CrumpleMM / max(hi-lo, 1e-6)
		parts = append(parts, func(x, y float64) float64 { return k * both(x, y) })
	}
	if r.CockleMM > 0 {
		waves := newFacets(w, h, 13, r.Seed+2)
		waves.smooth = true
		parts = append(parts, func(x, y float64) float64 { return 0.5 * r.CockleMM * waves.at(x, y) * wet(x+w/2, y+h/2) })
	}
	all := func(x, y float64) float64 {
		sum := 0.0
		for _, p := range parts {
			sum += p(x, y)
		}
		return sum
	}
	return func(x, y float64) float64 {
		ex, ey := max(-w/2, min(w/2, x)), max(-h/2, min(h/2, y))
		out := math.Hypot(x-ex, y-ey)
		if out == 0 {
			return all(x, y)
		}
		// Beyond the edge there is no paper. Its slope dies away there: a kink at the edge would show as a ragged
		// outline.
		const in, fade = 1.5, 6.0 // mm
		edge := all(ex, ey)
		slope := (edge - all(ex-in*(x-ex)/out, ey-in*(y-ey)/out)) / in
		return edge + slope*fade*(1-math.Exp(-out/fade))
	}
}

// facets is a net of triangles with random heights at its corners: what crumpled paper looks like.
type facets struct {
	cell   float64
	nx, ny int
	x0, y0 float64
	at3    [][3]float64 // place and height of each corner
	smooth bool
}

func newFacets(w, h, cell float64, seed uint64) *facets {
	rng := rand.New(rand.NewPCG(seed, 0xface))
	f := &facets{cell: cell, nx: int(w/cell) + 5, ny: int(h/cell) + 5}
	f.x0, f.y0 = -w/2-2*cell+cell*rng.Float64(), -h/2-2*cell+cell*rng.Float64()
	for j := range f.ny {
		for i := range f.nx {
			f.at3 = append(f.at3, [3]float64{
				f.x0 + cell*(float64(i)+0.35*(2*rng.Float64()-1)), f.y0 + cell*(float64(j)+0.35*(2*rng.Float64()-1)), rng.NormFloat64(),
			})
		}
	}
	return f
}

func (f *facets) at(x, y float64) float64 {
	i, j := int(math.Floor((x-f.x0)/f.cell)), int(math.Floor((y-f.y0)/f.cell))
	if f.smooth {
		i, j = max(0, min(i, f.nx-2)), max(0, min(j, f.ny-2))
		tx, ty := smoothstep((x-f.x0)/f.cell-float64(i)), smoothstep((y-f.y0)/f.cell-float64(j))
		a, b, c, d := f.at3[j*f.nx+i][2], f.at3[j*f.nx+i+1][2], f.at3[(j+1)*f.nx+i][2], f.at3[(j+1)*f.nx+i+1][2]
		return (a+tx*(b-a))*(1-ty) + (c+tx*(d-c))*ty
	}
	// The corners are moved from their grid: the triangle is in this cell or one beside it.
	for dj := range 3 {
		for di := range 3 {
			ci, cj := i+[3]int{0, -1, 1}[di], j+[3]int{0, -1, 1}[dj]
			if ci < 0 || cj < 0 || ci >= f.nx-1 || cj >= f.ny-1 {
				continue
			}
			a, b := &f.at3[cj*f.nx+ci], &f.at3[cj*f.nx+ci+1]
			c, d := &f.at3[(cj+1)*f.nx+ci], &f.at3[(cj+1)*f.nx+ci+1]
			if (ci+cj)&1 == 1 { // every other cell is cut along its other diagonal
				a, b, c, d = b, d, a, c
			}
			if h, ok := inTriangle(a, b, c, x, y); ok {
				return h
			}
			if h, ok := inTriangle(b, c, d, x, y); ok {
				return h
			}
		}
	}
	return 0
}

// inTriangle returns the height of the triangle at (x, y) if that lies in it.
func inTriangle(a, b, c *[3]float64, x, y float64) (float64, bool) {
	det := (b[1]-c[1])*(a[0]-c[0]) + (c[0]-b[0])*(a[1]-c[1])
	if det == 0 {
		return 0, false
	}
	u := ((b[1]-c[1])*(x-c[0]) + (c[0]-b[0])*(y-c[1])) / det
	v := ((c[1]-a[1])*(x-c[0]) + (a[0]-c[0])*(y-c[1])) / det
	const slack = -1e-9
	if u < slack || v < slack || 1-u-v < slack {
		return 0, false
	}
	return u*a[2] + v*b[2] + (1-u-v)*c[2], true
}
