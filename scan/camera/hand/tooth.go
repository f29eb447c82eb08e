package hand

import (
	"math"
	"math/rand/v2"
	"sync"
)

// toothPxPerMM and toothSide give the tile of paper relief its scale: 12.8 mm, repeated.
const (
	toothPxPerMM = 20
	toothSide    = 256
)

// toothTile is the relief of office paper: hills of 0.1 to 0.2 mm, values spread evenly from 0 to 1.
var toothTile = sync.OnceValue(func() []float32 {
	rng := rand.New(rand.NewPCG(20, 7))
	sum := make([]float64, toothSide*toothSide)
	for _, octave := range []struct{ cells, weight float64 }{{128, 1}, {64, 0.6}, {24, 0.25}} {
		n := int(octave.cells)
		grid := make([]float64, n*n)
		for i := range grid {
			grid[i] = rng.NormFloat64()
		}
		for y := range toothSide {
			for x := range toothSide {
				sum[y*toothSide+x] += octave.weight * wrapped(grid, n, float64(x)*octave.cells/toothSide, float64(y)*octave.cells/toothSide)
			}
		}
	}
	return ranked(sum)
})

// wrapped interpolates a grid of n x n that repeats.
func wrapped(grid []float64, n int, x, y float64) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	tx, ty := smoothstep(x-fx), smoothstep(y-fy)
	i, j := int(fx)%n, int(fy)%n
	k, l := (i+1)%n, (j+1)%n
	top := grid[j*n+i]*(1-tx) + grid[j*n+k]*tx
	low := grid[l*n+i]*(1-tx) + grid[l*n+k]*tx
	return top*(1-ty) + low*ty
}

// ranked replaces values by their rank as a share: an even spread keeps the pen's mean simple.
func ranked(v []float64) []float32 {
	const bins = 4096
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, x := range v {
		lo, hi = math.Min(lo, x), math.Max(hi, x)
	}
	var hist [bins + 1]int
	bin := func(x float64) int { return int((x - lo) / (hi - lo) * (bins - 1)) }
	for _, x := range v {
		hist[bin(x)+1]++
	}
	for i := 1; i <= bins; i++ {
		hist[i] += hist[i-1]
	}
	out := make([]float32, len(v))
	for i, x := range v {
		b := bin(x)
		out[i] = float32(hist[b]+hist[b+1]) / 2 / float32(len(v))
	}
	return out
}

// paperAt is one writer's paper: the tile, shifted.
type paperAt struct {
	tile   []float32
	dx, dy float64
}

// tooth is the height of the paper at a point in mm, 0 to 1.
func (p paperAt) tooth(x, y float64) float64 {
	i := int((x+p.dx)*toothPxPerMM) & (toothSide - 1)
	j := int((y+p.dy)*toothPxPerMM) & (toothSide - 1)
	return float64(p.tile[j*toothSide+i])
}
