package calib

import (
	"math"
	"slices"
	"sort"
)

// Curve says how often a text of a given score was wrong, on writers used for nothing else.
//
//	Score:  ascending knots
//	Log10Wrong: decimal logarithm of the share of wrong texts at each knot, never rising
//
// Between knots it runs straight; beyond them it stays at the end's value: a score higher than any
// seen earns no more than the highest that was seen often.
type Curve struct {
	Score      []float64 `json:"score"`
	Log10Wrong []float64 `json:"log10_wrong"`
	N          int       `json:"n"`     // readings it was fitted on
	Wrong      int       `json:"wrong"` // of these
	Writers    int       `json:"writers"`
}

// WrongAt returns the share of wrong texts at score; 1 if the curve has no knots.
func (c Curve) WrongAt(score float64) float64 {
	n := len(c.Score)
	if n == 0 || math.IsNaN(score) {
		return 1
	}
	i := sort.SearchFloat64s(c.Score, score)
	switch i {
	case 0:
		return math.Pow(10, c.Log10Wrong[0])
	case n:
		return math.Pow(10, c.Log10Wrong[n-1])
	}
	t := (score - c.Score[i-1]) / (c.Score[i] - c.Score[i-1])
	return math.Pow(10, c.Log10Wrong[i-1]+t*(c.Log10Wrong[i]-c.Log10Wrong[i-1]))
}

// Sample is one reading whose truth is known.
type Sample struct {
	Score  float64
	Right  bool
	Writer int
}

// Fit makes a curve from samples: groups of equal size by score, the share of wrong ones in each
// shrunk as Jeffreys' prior has it ((k + 1/2) / (n + 1)), then pooled until it never rises.
//
// The last knot can't claim less than 1/(2(n+1)) of its own group: without that, a group that saw no
// error would claim certainty. It returns an empty curve for fewer than 50 samples.
//
// Source: isotonic regression by pooling adjacent violators, Ayer et al. 1955; Jeffreys' interval,
// Brown, Cai & DasGupta 2001.
func Fit(samples []Sample) Curve {
	const least, groups = 50, 24
	if len(samples) < least {
		return Curve{}
	}
	s := slices.Clone(samples)
	slices.SortStableFunc(s, func(a, b Sample) int { return cmpFloat(a.Score, b.Score) })
	c := Curve{N: len(s)}
	writers := map[int]bool{}
	for _, x := range s {
		writers[x.Writer] = true
		if !x.Right {
			c.Wrong++
		}
	}
	c.Writers = len(writers)
	for _, b := range pool(split(s, groups)) {
		c.Score = append(c.Score, b.score/b.n)
		c.Log10Wrong = append(c.Log10Wrong, math.Log10(b.share()))
	}
	return c
}

// bin is a run of samples with neighbouring scores.
type bin struct{ n, wrong, score float64 } // score: the sum

func (b bin) share() float64 { return (b.wrong + 0.5) / (b.n + 1) }

// split cuts sorted samples into bins. Wrong ones sit at low scores, so the low half gets more bins:
// the k-th bin ends at the share 1-(1-k/groups)² from the top.
func split(s []Sample, groups int) []bin {
	var bins []bin
	from := 0
	for g := 1; g <= groups; g++ {
		t := float64(g) / float64(groups)
		to := int(math.Round(t * t * float64(len(s))))
		// Equal scores stay together, or a curve could fall at a single score.
		for to < len(s) && to > 0 && s[to].Score == s[to-1].Score {
			to++
		}
		if to-from < 10 {
			continue
		}
		var b bin
		for _, x := range s[from:to] {
			b.n++
			b.score += x.Score
			if !x.Right {
				b.wrong++
			}
		}
		bins = append(bins, b)
		from = to
	}
	return bins
}

// pool joins neighbours until the share of wrong ones never rises with the score.
func pool(bins []bin) []bin {
	var out []bin
	for _, b := range bins {
		out = append(out, b)
		for len(out) > 1 && out[len(out)-1].share() >= out[len(out)-2].share() {
			last := out[len(out)-1]
			out = out[:len(out)-1]
			p := &out[len(out)-1]
			p.n, p.wrong, p.score = p.n+last.n, p.wrong+last.wrong, p.score+last.score
		}
	}
	return out
}

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
