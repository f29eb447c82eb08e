package ocr

import (
	"math"
	"slices"
)

// A pale stroke among grain stands out along its length: the mean over a line of its length has a fraction of the
// grain, whatever way it runs.
const (
	streakLong   = 2.0 // mm
	streakAngles = 12
	streakOver   = 1.35 // times what grain makes in boxes like it
	streakLeast  = 20.0 // thousandths: on paper without grain ink is seen as such
)

// streaks returns how dark the darkest straight line in a patch is, and how light the lightest, against the patch's middle:
// grain alone makes the two alike.
func streaks(p []float64, w int) (dark, light float64) {
	h := len(p) / w
	base := at(slices.Sorted(slices.Values(p)), 0.5)
	half := streakLong / 2 * inkPxPerMM
	n := int(math.Round(2*half)) + 1
	for a := range streakAngles {
		sin, cos := math.Sincos(math.Pi * float64(a) / streakAngles)
		dx, dy := half*cos, half*sin
		mx, my := int(math.Ceil(math.Abs(dx))), int(math.Ceil(math.Abs(dy)))
		for y := my; y+my < h; y++ {
			for x := mx; x+mx < w; x++ {
				sum := 0.0
				for k := range n {
					t := 2*float64(k)/float64(n-1) - 1
					sum += p[int(math.Round(float64(y)+t*dy))*w+int(math.Round(float64(x)+t*dx))]
				}
				v := sum/float64(n) - base
				dark, light = max(dark, v), max(light, -v)
			}
		}
	}
	return dark, light
}
