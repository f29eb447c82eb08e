package camera

import (
	"image"
	"math"
	"math/rand/v2"
	"sync"
)

var fibreTile = sync.OnceValue(func() []float32 {
	out := noiseTile(fibreSide, 2, 5)
	for i, v := range noiseTile(fibreSide, 8, 6) {
		out[i] = 0.6*out[i] + 0.6*v
	}
	return out
})

// grainSide is the side of the tile of sensor noise; each use starts at a random place of it.
const grainSide = 1024

// grainTile is noise of variance 1, a little smeared as a phone's own noise filter leaves it.
var grainTile = sync.OnceValue(func() []float32 {
	rng := rand.New(rand.NewPCG(8, 8))
	raw := make([]float32, grainSide*grainSide)
	for i := range raw {
		raw[i] = float32(rng.NormFloat64())
	}
	out := make([]float32, len(raw))
	const m = grainSide - 1
	sum := 0.0
	for y := range grainSide {
		for x := range grainSide {
			i := y*grainSide + x
			side := raw[y*grainSide+(x+1)&m] + raw[((y+1)&m)*grainSide+x]
			out[i] = raw[i] + 0.45*side + 0.25*raw[((y+1)&m)*grainSide+(x+1)&m]
			sum += float64(out[i] * out[i])
		}
	}
	norm := float32(1 / math.Sqrt(sum/float64(len(out))))
	for i := range out {
		out[i] *= norm
	}
	return out
})

// toneSteps is the size of the tone table.
const toneSteps = 4096

// tone returns the table from linear light, in steps up to most, to grey values 0 to 255.
func (s *Shot) tone() (table []float32, perUnit float32) {
	const most = 1.6
	gain := math.Pow(s.WhiteGrey, gamma)
	table = make([]float32, toneSteps+1)
	for i := range table {
		light := most * float64(i) / toneSteps * gain
		e := math.Pow(light, 1/gamma)
		if e > 0.9 { // highlights roll off, then clip
			e = 0.9 + 0.1*math.Tanh((e-0.9)/0.1)
		}
		e += s.Tone * e * (1 - e) * (2*e - 1)
		table[i] = float32(255 * math.Max(0, math.Min(1, e)))
	}
	return table, toneSteps / most
}

// develop turns linear light into grey values: colour cast, tone curve, noise, sharpening.
// rect is the part's place in the photo: the same place has the same noise.
func (s *Shot) develop(lin []float32, rect image.Rectangle, channels int) []uint8 {
	w, h := rect.Dx(), rect.Dy()
	table, perUnit := s.tone()
	cast := [3]float32{float32(s.CastRGB[0]) * perUnit, float32(s.CastRGB[1]) * perUnit, float32(s.CastRGB[2]) * perUnit}
	if channels == 1 {
		cast[0] = perUnit
	}
	grain := grainTile()
	sigma := float32(255 * s.NoiseShare)
	const m = grainSide - 1
	bands(h, func(from, to int) {
		for y := from; y < to; y++ {
			row := lin[y*w*channels : (y+1)*w*channels]
			py := rect.Min.Y + y
			var at [4]int
			for k := range at {
				at[k] = int(mixBits(s.Seed + uint64(k)))
			}
			for x := range w {
				px := rect.Min.X + x
				look := func(k int) float32 {
					hash := at[k] + 40503*(px>>10) + 9973*(py>>10) // each block of the tile's size starts elsewhere
					return grain[((py+hash>>12)&m)*grainSide+(px+hash)&m]
				}
				luma := look(0)
				for c := range channels {
					v := row[x*channels+c] * cast[c]
					e := table[int(min(max(v, 0), toneSteps))]
					n := luma
					if channels == 3 {
						n = 0.85*luma + 0.5*look(1+c)
					}
					// Shadows are noisier than light after the tone curve.
					row[x*channels+c] = e + sigma*n*(1.35-0.35*e/255)
				}
			}
		}
	})
	return sharpen(lin, w, h, channels, float32(s.Sharpen))
}

// mixBits spreads a seed over all bits (splitmix64).
func mixBits(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return (x ^ x>>31) >> 16
}

// sharpen adds amount times the difference of brightness from its 3 x 3 neighbourhood, and rounds.
func sharpen(v []float32, w, h, channels int, amount float32) []uint8 {
	out := make([]uint8, len(v))
	bright := v
	if channels == 3 {
		bright = make([]float32, w*h)
		bands(h, func(from, to int) {
			for i := from * w; i < to*w; i++ {
				bright[i] = 0.3*v[3*i] + 0.6*v[3*i+1] + 0.1*v[3*i+2]
			}
		})
	}
	bands(h, func(from, to int) {
		sums := make([]float32, w+2)
		for y := from; y < to; y++ {
			up, mid, low := bright[max(0, y-1)*w:], bright[y*w:], bright[min(h-1, y+1)*w:]
			for x := range w {
				sums[x+1] = up[x] + 2*mid[x] + low[x]
			}
			sums[0], sums[w+1] = sums[1], sums[w]
			for x := range w {
				d := amount * (mid[x] - (sums[x]+2*sums[x+1]+sums[x+2])/16)
				for c := range channels {
					e := v[(y*w+x)*channels+c] + d + 0.5
					out[(y*w+x)*channels+c] = uint8(min(max(e, 0), 255))
				}
			}
		}
	})
	return out
}
