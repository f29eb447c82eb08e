package hand

import "math"

// up is how many mask pixels one pixel of a glyph becomes before its centre line is sought.
const up = 6

// pad is the empty border round a glyph, in glyph pixels.
const pad = 2

// maskSide is the side of the upsampled mask.
const maskSide = (28 + 2*pad) * up

// mask is a square binary picture; its outermost pixels are never ink.
type mask []bool

// upsample returns g magnified by up with Catmull-Rom interpolation.
func upsample(g *Glyph) []float32 {
	const n = 28 + 2*pad
	var kernel [up][4]float32
	for k := range kernel {
		t := (float64(k)+0.5)/up - 0.5 // offset from the pixel below
		if t < 0 {
			t++
		}
		kernel[k] = [4]float32{
			float32(-0.5*t + t*t - 0.5*t*t*t),
			float32(1 - 2.5*t*t + 1.5*t*t*t),
			float32(0.5*t + 2*t*t - 1.5*t*t*t),
			float32(-0.5*t*t + 0.5*t*t*t),
		}
	}
	first := func(i int) int { // leftmost of the four source pixels of magnified pixel i
		return (2*i+1+up)/(2*up) - 2 // the added 2·up keeps the division from rounding towards zero
	}
	at := func(x, y int) float32 {
		x, y = x-pad, y-pad
		if x < 0 || y < 0 || x >= 28 || y >= 28 {
			return 0
		}
		return float32(g.Pix[y*28+x])
	}
	rows := make([]float32, maskSide*n)
	for y := range n {
		for i := range maskSide {
			f, k := first(i), &kernel[i%up]
			rows[y*maskSide+i] = k[0]*at(f, y) + k[1]*at(f+1, y) + k[2]*at(f+2, y) + k[3]*at(f+3, y)
		}
	}
	row := func(y, i int) float32 {
		if y < 0 || y >= n {
			return 0
		}
		return rows[y*maskSide+i]
	}
	out := make([]float32, maskSide*maskSide)
	for j := range maskSide {
		f, k := first(j), &kernel[j%up]
		for i := range maskSide {
			out[j*maskSide+i] = k[0]*row(f, i) + k[1]*row(f+1, i) + k[2]*row(f+2, i) + k[3]*row(f+3, i)
		}
	}
	return out
}

// around lists the offsets of the eight neighbours, clockwise from the north.
var around = [8]int{-maskSide, -maskSide + 1, 1, maskSide + 1, maskSide, maskSide - 1, -1, -maskSide - 1}

// neighbours packs which neighbours of pixel i are set, bit k for around[k].
func (m mask) neighbours(i int) uint8 {
	var b uint8
	for k, o := range around {
		if m[i+o] {
			b |= 1 << k
		}
	}
	return b
}

// crossings counts the changes from empty to set on the way round the eight neighbours.
func crossings(b uint8) int {
	n := 0
	for k := range 8 {
		if b&(1<<k) == 0 && b&(1<<((k+1)%8)) != 0 {
			n++
		}
	}
	return n
}

func count(b uint8) int {
	n := 0
	for ; b != 0; b &= b - 1 {
		n++
	}
	return n
}

// thin erodes m in place to lines one pixel wide; loops stay loops and pieces stay pieces.
//
// Source: Zhang and Suen, A fast parallel algorithm for thinning digital patterns, CACM 27 (1984);
// then staircases are removed one simple point at a time.
func (m mask) thin() {
	var ink []int
	for i, set := range m {
		if set {
			ink = append(ink, i)
		}
	}
	var drop []int
	for changed := true; changed; {
		changed = false
		for pass := range 2 {
			drop = drop[:0]
			for _, i := range ink {
				b := m.neighbours(i)
				if c := count(b); c < 2 || c > 6 || crossings(b) != 1 {
					continue
				}
				n, e, s, w := b&1 != 0, b&4 != 0, b&16 != 0, b&64 != 0
				if pass == 0 && !(n && e && s) && !(e && s && w) || pass == 1 && !(n && e && w) && !(n && s && w) {
					drop = append(drop, i)
				}
			}
			for _, i := range drop {
				m[i] = false
			}
			if len(drop) > 0 {
				changed = true
				kept := ink[:0]
				for _, i := range ink {
					if m[i] {
						kept = append(kept, i)
					}
				}
				ink = kept
			}
		}
	}
	for _, i := range ink {
		if b := m.neighbours(i); count(b) >= 2 && simple(b) {
			m[i] = false
		}
	}
}

// simple reports whether a set pixel with these neighbours can go without joining or cutting anything:
// its set neighbours hang together over eight directions without it, and it has an empty side neighbour.
func simple(b uint8) bool {
	if b&1 != 0 && b&4 != 0 && b&16 != 0 && b&64 != 0 {
		return false
	}
	// Yokoi's connectivity number for eight-connected ink.
	n := 0
	empty := func(k int) int {
		if b&(1<<(k%8)) == 0 {
			return 1
		}
		return 0
	}
	for k := 0; k < 8; k += 2 {
		n += empty(k) - empty(k)*empty(k+1)*empty(k+2)
	}
	return n == 1
}

// distances returns for each ink pixel the distance to the nearest empty pixel's border, in mask pixels.
//
// Source: Felzenszwalb and Huttenlocher, Distance transforms of sampled functions (2012).
func (m mask) distances() []float32 {
	const far = 1e12
	f := make([]float64, maskSide*maskSide)
	for i, set := range m {
		if set {
			f[i] = far
		}
	}
	line, got := make([]float64, maskSide), make([]float64, maskSide)
	v, z := make([]int, maskSide), make([]float64, maskSide+1)
	sweep := func(start, stride int) {
		for k := range line {
			line[k] = f[start+k*stride]
		}
		lowerEnvelope(line, got, v, z)
		for k := range got {
			f[start+k*stride] = got[k]
		}
	}
	for x := range maskSide {
		sweep(x, maskSide)
	}
	for y := range maskSide {
		sweep(y*maskSide, 1)
	}
	out := make([]float32, len(f))
	for i, d := range f {
		if m[i] {
			out[i] = float32(math.Sqrt(d)) - 0.5
		}
	}
	return out
}

// lowerEnvelope puts min over q of (p-q)² + f[q] into d; v and z are room for it to work in.
func lowerEnvelope(f, d []float64, v []int, z []float64) {
	k := 0
	v[0], z[0], z[1] = 0, math.Inf(-1), math.Inf(1)
	for q := 1; q < len(f); q++ {
		s := 0.0
		for { // ends at z[0], which is -Inf
			p := v[k]
			s = ((f[q] + float64(q*q)) - (f[p] + float64(p*p))) / float64(2*q-2*p)
			if s > z[k] {
				break
			}
			k--
		}
		k++
		v[k], z[k], z[k+1] = q, s, math.Inf(1)
	}
	k = 0
	for p := range d {
		for z[k+1] < float64(p) {
			k++
		}
		q := v[k]
		d[p] = float64((p-q)*(p-q)) + f[q]
	}
}
