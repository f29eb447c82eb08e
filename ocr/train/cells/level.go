package cells

import "math/rand/v2"

// Level says how good the photo is.
type Level string

// The levels. Ordinary and Hard have the ranges of scan/camera/levels.yaml; Clean is evenly lit and
// sharp; Beyond is a little worse than Hard, for training.
const (
	Clean    Level = "clean"
	Ordinary Level = "ordinary"
	Hard     Level = "hard"
	Beyond   Level = "beyond"
)

// span is a range that is drawn from uniformly.
type span struct{ lo, hi float64 }

func (s span) draw(rng *rand.Rand) float64 { return s.lo + (s.hi-s.lo)*rng.Float64() }

// conditions are the ranges of one level.
type conditions struct {
	tiltDeg, blurMM, pxPerMM, pencil, ballpoint span
	ballpointShare                              float64
	lightFall, white, noise, sharpen, quality   span
	shadow, glare, motion, dusk, damp           span
	faultShare                                  float64 // share of boxes that each of the faults reaches
	offMM, turnDeg, stretch                     span    // what straightening leaves; drawn with either sign
}

var levels = map[Level]conditions{
	Clean: {
		tiltDeg: span{0, 2}, blurMM: span{0.02, 0.08}, pxPerMM: span{8, 12}, pencil: span{0.4, 0.8}, ballpoint: span{0.6, 0.9},
		ballpointShare: 0.5, lightFall: span{0, 0.05}, white: span{0.8, 0.95}, noise: span{0, 0.004}, sharpen: span{0, 0.5},
		quality: span{90, 97}, offMM: span{0, 0.15}, turnDeg: span{0, 0.5}, stretch: span{0, 0.01},
	},
	Ordinary: {
		tiltDeg: span{0, 20}, blurMM: span{0.02, 0.12}, pxPerMM: span{8, 14}, pencil: span{0.25, 0.6}, ballpoint: span{0.45, 0.85},
		ballpointShare: 0.25, lightFall: span{0, 0.03}, white: span{0.68, 0.92}, noise: span{0.004, 0.012}, sharpen: span{0.2, 0.9},
		quality: span{85, 95}, shadow: span{0.2, 0.45}, glare: span{0.05, 0.15}, motion: span{0.3, 0.9}, dusk: span{0.012, 0.018},
		damp: span{0.04, 0.1}, faultShare: 0.04, offMM: span{0, 0.45}, turnDeg: span{0, 0.8}, stretch: span{0, 0.015},
	},
	Hard: {
		tiltDeg: span{0, 45}, blurMM: span{0.02, 0.3}, pxPerMM: span{4.5, 8}, pencil: span{0.12, 0.25}, ballpoint: span{0.25, 0.45},
		lightFall: span{0, 0.06}, white: span{0.55, 0.94}, noise: span{0.005, 0.014}, sharpen: span{0, 1.2},
		quality: span{60, 90}, shadow: span{0.25, 0.6}, glare: span{0.08, 0.25}, motion: span{0.3, 0.95}, dusk: span{0.014, 0.024},
		damp: span{0.06, 0.16}, faultShare: 0.15, offMM: span{0, 0.6}, turnDeg: span{0, 1.2}, stretch: span{0, 0.02},
	},
	Beyond: {
		tiltDeg: span{0, 50}, blurMM: span{0.05, 0.42}, pxPerMM: span{4, 7}, pencil: span{0.10, 0.6}, ballpoint: span{0.2, 0.9},
		ballpointShare: 0.3, lightFall: span{0, 0.2}, white: span{0.4, 0.97}, noise: span{0.004, 0.022}, sharpen: span{0, 1.5},
		quality: span{45, 90}, shadow: span{0.2, 0.7}, glare: span{0.08, 0.3}, motion: span{0.3, 0.95}, dusk: span{0.014, 0.028},
		damp: span{0.06, 0.2}, faultShare: 0.25, offMM: span{0, 0.8}, turnDeg: span{0, 2.5}, stretch: span{0, 0.04},
	},
}
