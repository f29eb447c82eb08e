package camera

import "math"

// Bend is the shape of the paper: rolled along one direction, a little twisted, perhaps folded.
//
// The roll keeps lengths on the paper, as paper does; the twist is so slight that it hardly doesn't.
type Bend struct {
	DirDeg   float64 `json:"dir_deg"`   // direction of the roll on the sheet, 0 is along x
	HeightMM float64 `json:"height_mm"` // highest minus lowest point without the fold, mm
	Bow      float64 `json:"bow"`       // share of even curvature
	Curl     float64 `json:"curl"`      // share of curvature that grows to one side
	Twist    float64 `json:"twist"`     // share of twist
	FoldDeg  float64 `json:"fold_deg"`  // angle of the fold, 0 for none
	FoldAt   float64 `json:"fold_at"`   // where along the roll's direction from the middle, mm
	FoldDir  float64 `json:"fold_dir"`  // 1 for a ridge, -1 for a valley
}

// surface gives the place in space of each point of the sheet: x and y as on the flat sheet but from its
// middle, h the height above the table, all in mm.
type surface struct {
	w, h       float64
	cos, sin   float64
	reach      float64 // the profile is tabulated from -reach to reach
	prof       []knot
	twist      float64 // mm of height per mm² of x·y
	rest       float64 // subtracted so that the lowest point lies on the table
	mean       float64 // halfway from the lowest point to the highest
	bend       Bend
	profMargin float64
	mesh       *mesh // of a staged shot: where it is set, it is the surface
}

// knot is one point of the profile along the roll: position, height and angle of slope.
type knot struct{ p, h, cos, sin float64 }

// knotStep is the distance of knots in mm; a fold's rounded edge is 0.8 mm wide.
const knotStep = 0.4

// newSurface builds the paper of a w x h mm sheet.
func newSurface(w, h float64, b Bend) *surface {
	a := b.DirDeg * math.Pi / 180
	s := &surface{w: w, h: h, cos: math.Cos(a), sin: math.Sin(a), bend: b, profMargin: 30}
	s.reach = (math.Abs(s.cos)*w + math.Abs(s.sin)*h) / 2
	// Height is nearly proportional to the strength of the roll: three rounds settle it.
	strength := 0.0
	if b.HeightMM > 0 {
		strength = 4 * b.HeightMM / s.reach
	}
	for range 6 {
		s.profile(strength, 0)
		s.twist = b.Twist * strength * 2 / math.Max(w, h)
		lo, hi := s.heights()
		if hi-lo < 1e-9 {
			break
		}
		strength *= b.HeightMM / (hi - lo)
	}
	s.twist = b.Twist * strength * 2 / math.Max(w, h)
	s.profile(strength, b.FoldDeg*math.Pi/180)
	lo, hi := s.heights()
	s.rest, s.mean = lo, (hi-lo)/2
	return s
}

// profile integrates the slope along the roll, from the middle to both sides.
func (s *surface) profile(strength, foldRad float64) {
	n := int(math.Ceil((s.reach + s.profMargin) / knotStep))
	s.prof = make([]knot, 2*n+1)
	angle := func(at float64) float64 {
		// Beyond the sheet the slope dies away: there is no paper, only the table.
		in := math.Max(-s.reach, math.Min(s.reach, at))
		t := in / s.reach
		phi := strength * (s.bend.Bow*t + s.bend.Curl*(t*t-1.0/3))
		phi += s.bend.FoldDir * foldRad / 2 * math.Tanh((in-s.bend.FoldAt)/0.4)
		return phi * math.Exp(-math.Abs(at-in)/6)
	}
	put := func(i int, p, h float64) {
		phi := angle(float64(i-n) * knotStep)
		s.prof[i] = knot{p, h, math.Cos(phi), math.Sin(phi)}
	}
	put(n, 0, 0)
	for _, dir := range []int{1, -1} {
		for i := n; i > 0 && i < 2*n; i += dir {
			k := s.prof[i]
			mid := angle((float64(i-n) + 0.5*float64(dir)) * knotStep)
			end := angle((float64(i-n) + float64(dir)) * knotStep)
			step := knotStep * float64(dir) / 6 // Simpson's rule
			put(i+dir, k.p+step*(k.cos+4*math.Cos(mid)+math.Cos(end)), k.h+step*(k.sin+4*math.Sin(mid)+math.Sin(end)))
		}
	}
}

// heights returns the lowest and highest point of the sheet, sampled, before rest is known.
func (s *surface) heights() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	const n = 24
	for j := range n + 1 {
		for i := range n + 1 {
			_, _, h := s.at(s.w*(float64(i)/n-0.5), s.h*(float64(j)/n-0.5))
			lo, hi = math.Min(lo, h), math.Max(hi, h)
		}
	}
	return lo, hi
}

// along returns profile position and height at distance u from the middle, by cubic interpolation.
func (s *surface) along(u float64) (p, h float64) {
	n := (len(s.prof) - 1) / 2
	f := u/knotStep + float64(n)
	i := int(math.Floor(f))
	if i < 0 {
		k := s.prof[0]
		return k.p + f*knotStep, k.h
	}
	if i >= len(s.prof)-1 {
		k := s.prof[len(s.prof)-1]
		return k.p + (f-float64(len(s.prof)-1))*knotStep, k.h
	}
	a, b, t := &s.prof[i], &s.prof[i+1], f-float64(i)
	t2, t3 := t*t, t*t*t
	h00, h10, h01, h11 := 2*t3-3*t2+1, t3-2*t2+t, -2*t3+3*t2, t3-t2
	return h00*a.p + h10*knotStep*a.cos + h01*b.p + h11*knotStep*b.cos,
		h00*a.h + h10*knotStep*a.sin + h01*b.h + h11*knotStep*b.sin
}

// at returns where the point (x, y) of the flat sheet, measured from its middle, lies in space.
func (s *surface) at(x, y float64) (px, py, h float64) {
	if s.mesh != nil {
		return s.mesh.at(x, y)
	}
	u, v := x*s.cos+y*s.sin, -x*s.sin+y*s.cos
	p, h := s.along(u)
	tx := math.Max(-s.w, math.Min(s.w, x))
	ty := math.Max(-s.h, math.Min(s.h, y))
	return p*s.cos - v*s.sin, p*s.sin + v*s.cos, h + s.twist*tx*ty - s.rest
}

// normal returns the unit normal of the paper at (x, y), pointing up.
func (s *surface) normal(x, y float64) (nx, ny, nz float64) {
	const d = 0.2
	_, _, a := s.at(x-d, y)
	_, _, b := s.at(x+d, y)
	_, _, c := s.at(x, y-d)
	_, _, e := s.at(x, y+d)
	nx, ny, nz = -(b-a)/(2*d), -(e-c)/(2*d), 1
	n := math.Sqrt(nx*nx + ny*ny + 1)
	return nx / n, ny / n, nz / n
}

// fromFold is the distance of a point of the sheet, from its middle, to the fold.
func (s *surface) fromFold(x, y float64) float64 {
	return math.Abs(x*s.cos + y*s.sin - s.bend.FoldAt)
}
