package calib

import "math"

// Upper returns the one-sided Clopper-Pearson upper bound of a share: seeing k in n or fewer would
// have probability delta if the true share were that high. It is 1 for n = 0.
//
// Source: Clopper & Pearson 1934.
func Upper(k, n int, delta float64) float64 {
	if n <= 0 || k >= n {
		return 1
	}
	lo, hi := float64(k)/float64(n), 1.0
	for range 100 {
		mid := (lo + hi) / 2
		if binomialAtMost(k, n, mid) > delta {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// binomialAtMost is the probability of k or fewer in n at share p, summed in logarithms.
func binomialAtMost(k, n int, p float64) float64 {
	if p <= 0 {
		return 1
	}
	if p >= 1 {
		return 0
	}
	lp, lq := math.Log(p), math.Log1p(-p)
	ln, _ := math.Lgamma(float64(n + 1))
	sum := 0.0
	for i := 0; i <= k; i++ {
		a, _ := math.Lgamma(float64(i + 1))
		b, _ := math.Lgamma(float64(n - i + 1))
		sum += math.Exp(ln - a - b + float64(i)*lp + float64(n-i)*lq)
	}
	return math.Min(sum, 1)
}
