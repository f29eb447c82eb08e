package propose

import (
	"fmt"
	"math"
)

const (
	longRuleMM = 40.0  // of a ruled line by which a picture is judged
	leastRunMM = 4.0   // of such a line that lies in one row of px, where it slants
	mostBowMM  = 0.8   // by which its middle may lie off
	mostSlant  = 0.018 // of its length, by which one end may lie lower (1 degree)
)

// crooked says how a long ruled line fails to be straight, or nothing: the card was bent, or the picture shows it from
// the side. Fields would then be proposed where none are.
func (f *finder) crooked() string {
	for _, across := range []bool{true, false} {
		m := f.ink.along(across, int(leastRunMM*f.PxPerMM), int(bridgeMM*f.PxPerMM))
		if !across {
			m = m.swapped()
		}
		for _, b := range m.blobs() {
			long := float64(b.rect.Dx()) / f.PxPerMM
			if long < longRuleMM || float64(len(b.px)) > lineWidest*f.PxPerMM*float64(b.rect.Dx()) {
				continue
			}
			left, middle, right := b.height(m.w, 0), b.height(m.w, 0.5), b.height(m.w, 1)
			bow := math.Abs(middle-(left+right)/2) / f.PxPerMM
			slant := math.Abs(right-left) / f.PxPerMM
			if bow > mostBowMM || slant > mostSlant*long {
				return fmt.Sprintf("a ruled line of %.0f mm isn't straight in the picture: one end lies %.1f mm off, its middle %.1f mm; lay the card flat under glass or scan it", long, slant, bow)
			}
		}
	}
	return ""
}

// height is the mean row of a blob's px near a share of its width.
func (b *blob) height(w int, at float64) float64 {
	x := float64(b.rect.Min.X) + at*float64(b.rect.Dx()-1)
	near := max(2, 0.03*float64(b.rect.Dx()))
	sum, n := 0.0, 0.0
	for _, p := range b.px {
		if math.Abs(float64(p%w)-x) <= near {
			sum, n = sum+float64(p/w), n+1
		}
	}
	if n == 0 {
		return float64(b.rect.Min.Y+b.rect.Max.Y) / 2
	}
	return sum / n
}

// swapped is the mask with rows and columns changed.
func (m mask) swapped() mask {
	out := newMask(m.h, m.w)
	for p, v := range m.at {
		if v {
			out.at[p%m.w*m.h+p/m.w] = true
		}
	}
	return out
}
