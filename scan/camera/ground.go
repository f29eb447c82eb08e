package camera

import (
	"math"
	"math/rand/v2"
	"sync"
)

// Ground is what the card lies on.
type Ground string

// The grounds; all are drawn by us.
const (
	Snow  Ground = "snow"
	Bench Ground = "bench"
	Glove Ground = "glove" // dark knitted cloth
	Cloth Ground = "cloth" // a jacket
	Hood  Ground = "hood"  // painted metal
)

// Grounds lists all grounds.
func Grounds() []Ground { return []Ground{Snow, Bench, Glove, Cloth, Hood} }

// groundSide and groundPxPerMM are the size and scale of a tile of ground, which repeats.
const (
	groundSide    = 512
	groundPxPerMM = 3.0
)

// texture is a repeating tile of linear RGB.
type texture [][3]float32

// at is bilinear in mm.
func (t texture) at(x, y float64) [3]float32 {
	x, y = x*groundPxPerMM, y*groundPxPerMM
	fx, fy := math.Floor(x), math.Floor(y)
	tx, ty := float32(x-fx), float32(y-fy)
	const m = groundSide - 1
	i, j := int(fx)&m, int(fy)&m
	k, l := (i+1)&m, (j+1)&m
	a, b, c, d := &t[j*groundSide+i], &t[j*groundSide+k], &t[l*groundSide+i], &t[l*groundSide+k]
	var out [3]float32
	for ch := range 3 {
		top := a[ch] + tx*(b[ch]-a[ch])
		low := c[ch] + tx*(d[ch]-c[ch])
		out[ch] = top + ty*(low-top)
	}
	return out
}

var grounds = func() map[Ground]func() texture {
	out := map[Ground]func() texture{}
	for _, g := range Grounds() {
		out[g] = sync.OnceValue(func() texture { return newTexture(g) })
	}
	return out
}()

// groundTexture returns the tile of g; an unknown ground is a bench.
func groundTexture(g Ground) texture {
	if f, ok := grounds[g]; ok {
		return f()
	}
	return grounds[Bench]()
}

// newTexture draws the tile of g.
func newTexture(g Ground) texture {
	t := make(texture, groundSide*groundSide)
	fine, mid, coarse := noiseTile(groundSide, 1, 11), noiseTile(groundSide, 6, 12), noiseTile(groundSide, 40, 13)
	for y := range groundSide {
		for x := range groundSide {
			i := y*groundSide + x
			f, m, c := float64(fine[i]), float64(mid[i]), float64(coarse[i])
			t[i] = groundColour(g, x, y, f, m, c, fine, coarse)
		}
	}
	return t
}

func groundColour(g Ground, x, y int, f, m, c float64, fine, coarse []float32) [3]float32 {
	rgb := func(v, r, gr, b float64) [3]float32 {
		v = math.Max(0.004, v)
		return [3]float32{float32(v * r), float32(v * gr), float32(v * b)}
	}
	switch g {
	case Snow:
		return rgb(0.86+0.05*c+0.03*m+0.04*f, 0.97, 0.99, 1.03)
	case Glove:
		// Knitted rows of loops, 3 mm wide.
		loop := 0.5 + 0.5*math.Sin(2*math.Pi*float64(x)/8)*math.Sin(2*math.Pi*(float64(y)+2*math.Sin(2*math.Pi*float64(x)/8))/8)
		return rgb(0.02+0.025*loop+0.006*f+0.004*c, 1, 1, 1.08)
	case Cloth:
		weave := 0.5 + 0.25*float64((x^y)&1) + 0.1*math.Sin(2*math.Pi*float64(x+y)/16)
		return rgb(0.13*weave+0.012*f+0.02*c+0.02*m, 0.5, 0.7, 1.5)
	case Hood:
		return rgb(0.20+0.012*c+0.004*f, 1.3, 0.75, 0.7)
	case Bench:
	}
	// Boards of 85 mm with grain along x: noise drawn out eightfold, each board its own.
	board := y / 256
	at := func(t []float32, stretch int) float64 {
		return float64(t[y*groundSide+(x/stretch+97*board)%groundSide])
	}
	rings := math.Sin(2 * math.Pi * (float64(y%256)/14 + 0.8*at(coarse, 4)))
	v := 0.30 + 0.025*rings + 0.05*at(fine, 16) + 0.02*at(coarse, 8) + 0.01*f
	if y%256 < 4 {
		v *= 0.25
	}
	return rgb(v, 1.35, 0.95, 0.62)
}

// noiseTile is smooth noise of about unit variance that repeats, with hills of cell px.
func noiseTile(side, cell int, seed uint64) []float32 {
	rng := rand.New(rand.NewPCG(seed, 77))
	n := max(1, side/cell)
	grid := make([]float32, n*n)
	for i := range grid {
		grid[i] = float32(rng.NormFloat64())
	}
	out := make([]float32, side*side)
	for y := range side {
		gy := float64(y) * float64(n) / float64(side)
		j, ty := int(gy), float32(smoothstep(gy-math.Floor(gy)))
		for x := range side {
			gx := float64(x) * float64(n) / float64(side)
			i, tx := int(gx), float32(smoothstep(gx-math.Floor(gx)))
			k, l := (i+1)%n, (j+1)%n
			top := grid[j*n+i]*(1-tx) + grid[j*n+k]*tx
			low := grid[l*n+i]*(1-tx) + grid[l*n+k]*tx
			out[y*side+x] = top*(1-ty) + low*ty
		}
	}
	return out
}
