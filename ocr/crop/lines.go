package crop

import (
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// edge is a printed line found along one side of a box, in px of the window.
type edge struct {
	upright bool
	at      float64 // where the line crosses the window's middle
	slope   float64 // px along its normal for a px along it
	// profile is the line's darkness at whole px to each side of its middle, -profileHalf first.
	profile [2*profileHalf + 1]float32
}

const profileHalf = 4 // px: 0.67 mm to each side hold a line of 0.5 mm, blurred

// Where lines are looked for.
const (
	edgeSearch = 4.5  // px to each side: 0.75 mm
	edgeSlope  = 0.03 // 1.7 degrees
	leastLine  = 0.02 // darkness
)

// findEdges returns the lines along the sides of box, as far as there are any.
func findEdges(d raster, box sheetmodel.Rect) []edge {
	w, h := float64(box.W)*inkPxPerMM, float64(box.H)*inkPxPerMM
	x0, y0 := float64(d.w)/2-w/2-0.5, float64(d.h)/2-h/2-0.5
	var found []edge
	for _, side := range []struct {
		upright bool
		at      float64
	}{{true, x0}, {true, x0 + w}, {false, y0}, {false, y0 + h}} {
		length := w
		if side.upright {
			length = h
		}
		if e, ok := findEdge(d, side.upright, side.at, length); ok {
			found = append(found, e)
		}
	}
	return found
}

// findEdge looks for the straight line that is dark nearly all along: strokes that cross or touch it
// cover a part only, so the 30 % quantile along a candidate is high for lines alone.
func findEdge(d raster, upright bool, at, length float64) (edge, bool) {
	best, bestScore := edge{upright: upright}, float32(0)
	samples := make([]float32, 0, 2*inkH)
	try := func(off, slope float64) {
		e := edge{upright: upright, at: at + off, slope: slope}
		samples = e.along(d, 0, length, 2, samples[:0])
		if q := lowQuantile(samples, 0.3); q > bestScore {
			best, bestScore = e, q
		}
	}
	for off := -edgeSearch; off <= edgeSearch; off += 0.5 {
		try(off, 0)
	}
	// A turned line is found by its middle first, then by its turn.
	middle := best.at - at
	for slope := -edgeSlope; slope <= edgeSlope+1e-9; slope += edgeSlope / 2 {
		for off := middle - 1; off <= middle+1; off += 0.5 {
			try(off, slope)
		}
	}
	if bestScore < leastLine {
		return edge{}, false
	}
	for k := range best.profile {
		samples = best.along(d, float64(k-profileHalf), length, 1, samples[:0])
		best.profile[k] = max(0, lowQuantile(samples, 0.4))
	}
	// The profile falls from its middle outwards: what rises again is something else beside the line.
	for k := 1; k <= profileHalf; k++ {
		best.profile[profileHalf+k] = min(best.profile[profileHalf+k], best.profile[profileHalf+k-1])
		best.profile[profileHalf-k] = min(best.profile[profileHalf-k], best.profile[profileHalf-k+1])
	}
	return best, true
}

// along appends samples of d beside e, over length px about the window's middle.
func (e edge) along(d raster, beside, length float64, step int, out []float32) []float32 {
	mid := float64(d.w-1) / 2
	if e.upright {
		mid = float64(d.h-1) / 2
	}
	for t := int(math.Ceil(mid - length/2)); float64(t) <= mid+length/2; t += step {
		n := e.at + e.slope*(float64(t)-mid) + beside
		if e.upright {
			out = append(out, d.between(n, t, true))
		} else {
			out = append(out, d.between(n, t, false))
		}
	}
	return out
}

// between interpolates d at n across and t along an upright or a lying line; outside it is 0.
func (r raster) between(n float64, t int, upright bool) float32 {
	k := int(math.Floor(n))
	f := float32(n - float64(k))
	if upright {
		if k < 0 || k+1 >= r.w || t < 0 || t >= r.h {
			return 0
		}
		return r.v[t*r.w+k]*(1-f) + r.v[t*r.w+k+1]*f
	}
	if k < 0 || k+1 >= r.h || t < 0 || t >= r.w {
		return 0
	}
	return r.v[k*r.w+t]*(1-f) + r.v[(k+1)*r.w+t]*f
}

// off takes e out of d: ink over print leaves (1-ink)(1-print) of the paper's light, so the ink is what
// is missing beyond the print. Where the print is too black to tell, ink is assumed if it is there on
// both sides of the line.
func (e edge) off(d raster) {
	mid := float64(d.w-1) / 2
	n := d.w
	if e.upright {
		mid, n = float64(d.h-1)/2, d.h
	}
	const black = 0.45
	reach := e.reach()
	for t := range n {
		at := e.at + e.slope*(float64(t)-mid)
		c := int(math.Round(at))
		a := d.get(c-reach-1, t, e.upright)
		b := d.get(c+reach+1, t, e.upright)
		bridge := min(a, b)
		for k := -reach; k <= reach; k++ {
			p := d.ptr(c+k, t, e.upright)
			if p == nil {
				continue
			}
			line := e.profileAt(float64(c+k) - at)
			// The line's own grain: a tenth of it is no ink.
			ink := max(0, 1-(1-*p)/(1-min(line, 0.95))-0.10*line)
			if line > black {
				ink = bridge
			} else if ink < bridge {
				ink = (ink + bridge) / 2
			}
			*p = min(ink, max(*p, 0))
		}
	}
}

// reach is how far the line is seen to each side, px.
func (e edge) reach() int {
	peak := e.profile[profileHalf]
	for k := profileHalf; k > 0; k-- {
		if max(e.profile[profileHalf+k], e.profile[profileHalf-k]) > max(0.08*peak, 0.01) {
			return k
		}
	}
	return 1
}

func (e edge) profileAt(x float64) float32 {
	x += profileHalf
	k := int(math.Floor(x))
	if k < 0 || k+1 >= len(e.profile) {
		return 0
	}
	f := float32(x - float64(k))
	return e.profile[k]*(1-f) + e.profile[k+1]*f
}

func (r raster) ptr(n, t int, upright bool) *float32 {
	x, y := t, n
	if upright {
		x, y = n, t
	}
	if x < 0 || y < 0 || x >= r.w || y >= r.h {
		return nil
	}
	return &r.v[y*r.w+x]
}

func (r raster) get(n, t int, upright bool) float32 {
	if p := r.ptr(n, t, upright); p != nil {
		return *p
	}
	return 0
}

// lowQuantile sorts v and returns its q-quantile, 0 when v is empty.
func lowQuantile(v []float32, q float64) float32 {
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	return v[int(q*float64(len(v)-1))]
}
