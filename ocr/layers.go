package ocr

import "math"

// habit is how the writer of a page writes: the middle of what the digits on it show. A page of one
// writer tells a digit with a second one over it better than any one digit does.
type habit struct {
	width, mid, dark, darkest float64
	known                     bool
}

const (
	leastDigits   = 4   // a habit needs
	leastDigitMM2 = 1.0 // of ink; less is a dot, or grain
)

// habitOf looks at the digits of a page.
func habitOf(all []strokes) habit {
	var width, mid, dark, darkest []float64
	for _, s := range all {
		if s.area < leastDigitMM2 || s.mid <= 0 {
			continue
		}
		width, mid = append(width, s.width), append(mid, s.mid)
		dark, darkest = append(dark, s.dark), append(darkest, s.darkest)
	}
	if len(width) < leastDigits {
		return habit{}
	}
	return habit{width: median(width), mid: median(mid), dark: median(dark), darkest: median(darkest), known: true}
}

// layerSigns is what tells one digit written over another from a digit. All are shares or logarithms of
// shares, so that they mean the same for large and small, pale and dark writing; counts are capped.
const layerSigns = 15

// signs lists them. most is what both readers together claim for their likeliest digit.
func (s strokes) signs(h habit, most float64) [layerSigns]float64 {
	var relWidth, relMid, relDark, relDarkest float64
	if h.known {
		relWidth = logShare(s.width, h.width)
		relMid, relDark, relDarkest = logShare(s.mid, h.mid), logShare(s.dark, h.dark), logShare(s.darkest, h.darkest)
	}
	return [layerSigns]float64{
		logShare(s.length, s.h),
		math.Min(float64(s.joints), 6),
		math.Min(float64(s.ends), 6),
		math.Min(float64(s.holes), 5),
		s.bulge / math.Max(s.width, 0.1),
		s.pale / math.Max(s.mid, 1),
		s.darkest / math.Max(s.mid, 1),
		relWidth, relMid, relDark, relDarkest,
		s.rows, s.cols,
		s.area / math.Max(s.w*s.h, 0.5),
		math.Min(6, -math.Log10(math.Max(1-most, 1e-6))),
	}
}

func logShare(v, of float64) float64 { return math.Log(math.Max(v, 0.05) / math.Max(of, 0.05)) }

// Weights of the signs, the constant last, for pages whose writer's habit is known and for others. Fitted
// by logistic regression on digits of calibration writers; limits chosen there too, see report.md.
var (
	layerWeights = [layerSigns + 1]float64{
		1.470, 0.447, -0.476, -0.168, 1.581, -2.548, -0.433, 8.360, -0.243, 6.294, 11.061, 1.468, 0.007, 5.823, -1.730, -9.419,
	}
	layerWeightsAlone = [layerSigns + 1]float64{
		0.339, 0.497, -0.198, 0.171, -0.261, -5.104, 3.115, 0, 0, 0, 0, 0.582, -0.467, 10.247, -2.494, -4.841,
	}
)

// Limits of the sum, above which a digit is doubtful.
const (
	layerLimit = -2.6 // one good digit in 200 lies above
	layerPoor  = -2.8 // on pages where strokes are hard to measure: none of 182 good digits lies above
	layerAlone = -1.2 // where the habit isn't known: one in 50
	// layerBeside is for the first box of the second writing: there a question mark behind the bib falls
	// on a digit. One good digit in 35 lies above.
	layerBeside = -5.0
)

// layered reports whether a digit may be two, one written over the other. limit is for known habits.
func (s strokes) layered(h habit, most, limit float64) bool {
	switch {
	case s.area < leastDigitMM2:
		return false
	case h.known:
		return weigh(s.signs(h, most), layerWeights) > limit
	default:
		return weigh(s.signs(h, most), layerWeightsAlone) > layerAlone
	}
}

func weigh(signs [layerSigns]float64, weights [layerSigns + 1]float64) float64 {
	sum := weights[layerSigns]
	for i, v := range signs {
		sum += v * weights[i]
	}
	return sum
}
