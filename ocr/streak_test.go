package ocr

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// grainPatch is a box of 4 mm with nothing but grain, as smooth as a page's.
func grainPatch(rng *rand.Rand, noise float64) ([]float64, int) {
	const w = 24
	raw := make([]float64, (w+2)*(w+2))
	for i := range raw {
		raw[i] = 3 * noise * rng.NormFloat64()
	}
	out := make([]float64, w*w)
	for y := range w {
		for x := range w {
			for v := range 3 {
				for u := range 3 {
					out[y*w+x] += raw[(y+v)*(w+2)+x+u] / 9
				}
			}
		}
	}
	return out, w
}

// A stroke no darker than three deviations of the grain stands out along its length; grain alone is as dark as it is
// light. Our own logic.
func TestStreaks_PaleStrokeInGrain_StandsOut(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	const noise, n = 12.0, 40
	var darks, lights []float64
	least := 1000.0
	for range n {
		p, w := grainPatch(rng, noise)
		dark, light := streaks(p, w)
		darks, lights = append(darks, dark), append(lights, light)
		for k := range 16 { // 2.7 mm, three px wide, leaning
			for u := range 3 {
				p[(4+k)*w+9+k/3+u] += 3.5 * noise
			}
		}
		dark, _ = streaks(p, w)
		least = min(least, dark)
	}
	limit := max(streakLeast, streakOver*median(lights))
	over := 0
	for _, d := range darks {
		if d > limit {
			over++
		}
	}
	assert.LessOrEqual(t, over, n/10, "few boxes without a stroke are asked about")
	assert.Greater(t, least, limit, "every stroke is found")
}
