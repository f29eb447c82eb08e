package camera

import (
	"math"
	"math/rand/v2"
)

// sunWidth is the width of a shadow's edge per mm of way from what casts it: the sun's disc is 0.53 degrees wide.
const sunWidth = 0.0093

// emboss lays the shot's relief on surf, with the shadow that the sheet throws on itself.
func (s *Shot) emboss(surf *surface) {
	st := s.Staging
	surf.mesh = newMesh(surf, st.Relief.heights(surf.w, surf.h, st.wetAt), st.Relief.flat())
	lo, hi := math.Inf(1), math.Inf(-1)
	const n = 24
	for j := range n + 1 {
		for i := range n + 1 {
			_, _, h := surf.mesh.at(surf.w*(float64(i)/n-0.5), surf.h*(float64(j)/n-0.5))
			lo, hi = math.Min(lo, h), math.Max(hi, h)
		}
	}
	surf.rest, surf.mean = 0, (hi+lo)/2
	l := &s.Light
	surf.mesh.selfShadow(l.Elevation*math.Pi/180, l.Azimuth*math.Pi/180)
}

// wetAt returns how wet the paper is at a place of the sheet, 0 to 1.
func (st *Staging) wetAt(x, y float64) float64 {
	wet := 0.0
	for i, w := range st.Wets {
		u, v := (x-w.X)/w.RX, (y-w.Y)/w.RY
		if u*u+v*v > 4 {
			continue
		}
		// A ragged outline: the radius goes in and out with the direction.
		a := math.Atan2(v, u)
		k := float64(i)
		ragged := 1 + 0.14*math.Sin(3*a+2*k) + 0.09*math.Sin(5*a+k) + 0.05*math.Sin(11*a+3*k)
		wet = math.Max(wet, 1-smoothstep((math.Hypot(u, v)/ragged-0.88)/0.18))
	}
	return wet
}

// sunDir is the direction to the sun in the frame of the first card: right, down, up.
func (l Light) sunDir() [3]float64 {
	sinE, cosE := math.Sincos(l.Elevation * math.Pi / 180)
	sinA, cosA := math.Sincos(l.Azimuth * math.Pi / 180)
	return [3]float64{cosE * cosA, cosE * sinA, sinE}
}

// shade returns how far p lies from the bone's shadow, in widths of its edge there; negative in the shadow.
func (b *Bone) shade(p, sun [3]float64) float64 {
	// Seen along the sun's rays the bone is a flat rounded rod: measure in that plane.
	ax, bx := sub(b.A, p), sub(b.B, p)
	ta, tb := dot(ax, sun), dot(bx, sun)
	fa := [3]float64{ax[0] - ta*sun[0], ax[1] - ta*sun[1], ax[2] - ta*sun[2]}
	d := sub([3]float64{bx[0] - tb*sun[0], bx[1] - tb*sun[1], bx[2] - tb*sun[2]}, fa)
	k := 0.0
	if dd := dot(d, d); dd > 0 {
		k = math.Max(0, math.Min(1, -dot(fa, d)/dd))
	}
	q := [3]float64{fa[0] + k*d[0], fa[1] + k*d[1], fa[2] + k*d[2]}
	way := ta + k*(tb-ta)
	if way < -b.R {
		return 9 // beneath the point
	}
	return (math.Sqrt(dot(q, q)) - b.R) / (0.12 + sunWidth*math.Max(0, way))
}

func sub(a, b [3]float64) [3]float64 { return [3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// castBy returns how far a point of the table at height h lies from the shadow of the card, in widths of
// its edge; the card is sought along the sun's ray.
func (p *pose) castBy(x, y, h float64, sun [3]float64) float64 {
	// Where the ray meets the card: slide along it until the paper's height is the ray's.
	t, up := 0.0, 0.0
	var in float64
	for k := range 5 {
		u, v := p.fromTable(x+t*sun[0], y+t*sun[1])
		px, py, ph := p.view.surf.at(u, v)
		u, v = u-(px-u), v-(py-v) // from the place in space back to the place on the sheet
		in = p.view.shot.inside(u+p.view.halfW, v+p.view.halfH)
		up = ph + p.lift + 0.1 - h
		if k == 0 && (up < 0 || in < -60) {
			return 9
		}
		t = 0.5*t + 0.5*up/sun[2]
		if k > 2 {
			t = up / sun[2]
		}
	}
	if up <= 0 {
		return 9
	}
	return -in / (0.15 + sunWidth*t)
}

// drawHand holds a hand, or a phone in fingers, between the sun and the card: its shadow's tip falls on
// (x, y) of the card, from its middle. above is the height of the knuckles over the card.
func drawHand(x, y, above float64, l Light, rng *rand.Rand) []Bone {
	sun := l.sunDir()
	t := above / sun[2]
	tip := [3]float64{x + t*sun[0], y + t*sun[1], above}
	// The arm comes from the sun's side, give or take: people don't stand in their own light all the time.
	dir := l.Azimuth*math.Pi/180 + 0.9*rng.NormFloat64()
	rise := 0.15 + 0.35*rng.Float64()
	back := [3]float64{math.Cos(dir), math.Sin(dir), rise}
	side := [3]float64{-math.Sin(dir), math.Cos(dir), 0.3 * (2*rng.Float64() - 1)}
	if rng.Float64() < 0.5 { // the other hand
		side = [3]float64{-side[0], -side[1], -side[2]}
	}
	// at takes mm behind the tip and to the side to the place in space.
	at := func(u, v, lower float64) [3]float64 {
		return [3]float64{tip[0] + u*back[0] + v*side[0], tip[1] + u*back[1] + v*side[1], math.Max(9, tip[2]+u*back[2]+v*side[2]-lower)}
	}
	k := 0.9 + 0.25*rng.Float64()
	var out []Bone
	rod := func(a, b [3]float64, r float64) { out = append(out, Bone{A: a, B: b, R: k * r}) }
	fist := rng.Float64() < 0.4
	long := [4]float64{66, 78, 72, 54}
	for i := range 4 {
		v := 20 * (float64(i) - 1.5)
		knuckle := at(78*k, v*k, 0)
		rod(knuckle, at(155*k, 0.6*v*k, 0), 12)
		bend, spread := 10+14*rng.Float64(), 4*(float64(i)-1.5)+4*rng.NormFloat64()
		if fist {
			rod(knuckle, at((78-0.42*long[i])*k, v*k, 14), 9.5)
			continue
		}
		mid := at((78-0.5*long[i])*k, (v+0.5*spread)*k, 0.3*bend)
		rod(knuckle, mid, 9)
		rod(mid, at((78-long[i])*k, (v+spread)*k, bend), 7.8)
	}
	joint := at(98*k, -58*k, 12)
	rod(at(140*k, -26*k, 4), joint, 13)
	rod(joint, at((58+15*rng.Float64())*k, -(66+10*rng.Float64())*k, 18), 9.5)
	rod(at(150*k, 0, 0), at(430*k, 0, 0), 31)
	if fist { // the phone it holds lies across
		for i := range 9 {
			v := 8.5 * (float64(i) - 4)
			rod(at(-35+v*0.1, v, 4), at(112+v*0.1, v, 4), 4.6)
		}
	}
	return out
}
