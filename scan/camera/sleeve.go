package camera

import (
	"math"
	"sync"
)

// dropCell is the side in mm of the squares in which drops are looked up.
const dropCell = 4.0

// mirror returns the light that the sleeve throws into the camera from (x, y), from the card's middle, in
// shares of white paper's light. eye is the direction to the camera.
func (sl *Sleeve) mirror(x, y float64, eye [3]float64, seed uint64) float64 {
	// Waves of the plastic in a few directions: their slopes tilt the mirror.
	sx, sy := 0.0, 0.0
	for k := range uint64(6) {
		bits := mixBits(seed + 31*k)
		a, phase := float64(bits&1023)*2*math.Pi/1024, float64(bits>>10&1023)*2*math.Pi/1024
		sin, cos := math.Sincos(a)
		long := sl.WaveMM * (0.6 + 0.35*float64(k))
		s := sl.Slope * math.Cos(2*math.Pi*(x*cos+y*sin)/long+phase)
		sx, sy = sx+s*cos, sy+s*sin
	}
	k := 1 / math.Sqrt(1+sx*sx+sy*sy)
	n := [3]float64{-sx * k, -sy * k, k}
	d := 2 * dot(n, eye)
	r := [3]float64{d*n[0] - eye[0], d*n[1] - eye[1], d*n[2] - eye[2]}
	off := math.Acos(math.Max(-1, math.Min(1, dot(r, sl.Window))))
	q := off / sl.Width
	return sl.Amount * (math.Exp(-q*q/2) + 0.12*math.Exp(-q*q/32))
}

// rim draws the sleeve beside the card, out mm from its edge: a veil, and two welded seams.
func (sl *Sleeve) rim(px []float32, out float64, light float32) {
	const wide = 4.5 // mm
	if out < 0 || out > wide {
		return
	}
	seam := float32(math.Exp(-(out-wide+0.3)*(out-wide+0.3)/(2*0.2*0.2)) + 0.5*math.Exp(-(out-wide+1.6)*(out-wide+1.6)/(2*0.15*0.15)))
	for ch := range px {
		px[ch] = px[ch]*0.92 + 0.03*light + 0.22*seam*light
	}
}

// bendsLight returns where on the paper one sees through the drop at (x, y), and the glint on it; light is
// dimmed towards the drop's rim.
func (d *Hole) bendsLight(x, y float64, sun [3]float64, light *float32) (lx, ly float64, shine float32) {
	dx, dy := (x-d.X)/d.R, (y-d.Y)/d.R
	rho := math.Min(1, math.Hypot(dx, dy))
	k := 0.6 + 0.4*rho*rho // a drop is a small lens
	toSun := (dx*sun[0] + dy*sun[1]) / math.Max(0.2, math.Hypot(sun[0], sun[1]))
	*light *= float32(1 - 0.22*toSun*rho - 0.3*rho*rho*rho*rho)
	gx, gy := dx-0.5*sun[0], dy-0.5*sun[1]
	return d.X + k*d.R*dx, d.Y + k*d.R*dy, float32(0.7 * math.Exp(-(gx*gx+gy*gy)/(2*0.14*0.14)))
}

// lumpSide is the side of a tile of snow's unevenness, at half a px per mm.
const lumpSide = 512

var lumpTile = sync.OnceValue(func() []float32 {
	out := noiseTile(lumpSide, 16, 21)
	for i, v := range noiseTile(lumpSide, 5, 22) {
		out[i] = 0.7*out[i] + 0.5*v
	}
	return out
})

// lumpAt is bilinear in mm.
func lumpAt(t []float32, x, y float64) float32 {
	x, y = x/2, y/2
	fx, fy := math.Floor(x), math.Floor(y)
	tx, ty := float32(x-fx), float32(y-fy)
	const m = lumpSide - 1
	i, j := int(fx)&m, int(fy)&m
	k, l := (i+1)&m, (j+1)&m
	top := t[j*lumpSide+i]*(1-tx) + t[j*lumpSide+k]*tx
	low := t[l*lumpSide+i]*(1-tx) + t[l*lumpSide+k]*tx
	return top*(1-ty) + low*ty
}
