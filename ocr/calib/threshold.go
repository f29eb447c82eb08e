package calib

import (
	"math"
	"slices"
)

// Threshold is the score from which a text counts as clear, and what was known when it was chosen.
type Threshold struct {
	Score   float64 `json:"score"`    // clear from here on
	Target  float64 `json:"target"`   // share of clear texts that may be wrong
	Upper95 float64 `json:"upper95"`  // bound of that share, corrected for all tries
	Tries   int     `json:"tries"`    // thresholds tried
	N       int     `json:"n"`        // readings it was chosen on
	Clear   int     `json:"clear"`    // of these, at or above the threshold
	Wrong   int     `json:"wrong"`    // clear and wrong
	Writers int     `json:"writers"`  // whose readings these were
	Met     bool    `json:"met"`      // whether Upper95 is within Target
	MaxAsk  float64 `json:"max_ask"`  // largest share of readings that may be asked because of it
	Asked   float64 `json:"ask_seen"` // share that was
}

// Tried is the number of thresholds Choose looks at.
const Tried = 15

// Choose picks among 15 thresholds, spread evenly over the share asked from 0 to maxAsk, the lowest
// whose Clopper-Pearson bound at 0.05/15 is within target.
//
// If none is, it takes the strictest and says so in Met: a target out of reach of small data, or of the
// reader, stays visible, and the asking stays bounded. Samples must come from writers that Fit never saw.
//
// Source: selection with guaranteed risk, Geifman & El-Yaniv 2017, with Bonferroni's correction.
func Choose(samples []Sample, target, maxAsk float64) Threshold {
	th := Threshold{Score: math.MaxFloat64, Target: target, Upper95: 1, Tries: Tried, N: len(samples), MaxAsk: maxAsk}
	if len(samples) == 0 {
		return th
	}
	s := slices.Clone(samples)
	slices.SortStableFunc(s, func(a, b Sample) int { return cmpFloat(a.Score, b.Score) })
	writers := map[int]bool{}
	for _, x := range s {
		writers[x.Writer] = true
	}
	th.Writers = len(writers)
	for i := range Tried {
		from := int(math.Round(float64(i) / (Tried - 1) * maxAsk * float64(len(s))))
		from = min(from, len(s)-1)
		// A threshold between equal scores would not be a threshold.
		for from > 0 && s[from].Score == s[from-1].Score {
			from--
		}
		stand, wrong := len(s)-from, 0
		for _, x := range s[from:] {
			if !x.Right {
				wrong++
			}
		}
		upper := Upper(wrong, stand, 0.05/Tried)
		th.Score, th.Upper95, th.Clear, th.Wrong = s[from].Score, upper, stand, wrong
		th.Asked = float64(from) / float64(len(s))
		if upper <= target {
			th.Met = true
			return th
		}
	}
	return th
}
