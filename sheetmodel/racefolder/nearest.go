package racefolder

import (
	"fmt"
	"strings"
)

// didYouMean returns "; did you mean x?" for the closest of the known words, or "; write one of: ...".
func didYouMean(got string, known []string) string {
	best, bestDist := "", 3
	for _, k := range known {
		if d := editDistance(strings.ToLower(got), strings.ToLower(k)); d < bestDist && d < len([]rune(k)) {
			best, bestDist = k, d
		}
	}
	if best != "" {
		return fmt.Sprintf("; did you mean %s?", best)
	}
	if len(known) == 0 {
		return ""
	}
	return "; write one of: " + strings.Join(known, ", ")
}

// editDistance counts the single-character insertions, deletions, replacements and swaps of
// neighbours that turn a into b (optimal string alignment). Long texts count as far apart.
func editDistance(a, b string) int {
	x, y := []rune(a), []rune(b)
	if len(x) > 64 || len(y) > 64 {
		return 64
	}
	d := make([][]int, len(x)+1)
	for i := range d {
		d[i] = make([]int, len(y)+1)
		d[i][0] = i
	}
	for j := range d[0] {
		d[0][j] = j
	}
	for i := 1; i <= len(x); i++ {
		for j := 1; j <= len(y); j++ {
			swap := 1
			if x[i-1] == y[j-1] {
				swap = 0
			}
			d[i][j] = min(d[i-1][j]+1, d[i][j-1]+1, d[i-1][j-1]+swap)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(x)][len(y)]
}
