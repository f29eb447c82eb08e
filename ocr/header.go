package ocr

import (
	"math"
	"strings"

	"gatefold/ocr/ctc"
	"gatefold/ocr/joint"
	"gatefold/ocr/net"
)

// PhoneBelief says which phone numbers a line may hold, by their digits, with their exact probabilities; all the rest
// of 1 is "none of these".
func PhoneBelief(l *ctc.Line) joint.Belief {
	claims := map[string]float64{}
	for _, t := range l.Best(listedTexts, phoneGrammar{}) {
		claims[bare(spelt(t.Symbols))] += t.Prob
	}
	return toBelief(claims, leastClaim)
}

// DateBelief says which days a line may hold: as 2026-02-07, or 02-07 where no year is written; where a text may mean
// several days, all of them with "or" between. All the rest of 1 is "none of these".
func DateBelief(l *ctc.Line) joint.Belief {
	claims, g := map[string]float64{}, dates()
	for _, t := range l.Best(listedTexts, g) {
		if days := g.meanings(spelt(t.Symbols)); len(days) > 0 {
			claims[strings.Join(days, " or ")] += t.Prob
		}
	}
	return toBelief(claims, leastClaim)
}

// NameBelief says which of names a line may hold in block capitals: whole in either order, either part alone, or an
// initial and a part. All the rest of 1 is "none of these".
func NameBelief(l *ctc.Line, names []string) joint.Belief {
	claims := map[string]float64{}
	for _, n := range names {
		for _, s := range spellings(n) {
			claims[n] += math.Exp(l.Log(s))
		}
	}
	return toBelief(claims, 0)
}

// NameEvidence is the log-probability of a name's likeliest spelling.
func NameEvidence(l *ctc.Line, name string) float64 {
	best := math.Inf(-1)
	for _, s := range spellings(name) {
		best = max(best, l.Log(s))
	}
	return best
}

// spellings lists how a name is written, as symbols.
func spellings(name string) [][]int {
	var words []string
	for _, w := range strings.Fields(strings.ToUpper(name)) {
		w = strings.Map(func(c rune) rune {
			if c >= 'A' && c <= 'Z' {
				return c
			}
			return -1
		}, w)
		if w != "" {
			words = append(words, w)
		}
	}
	if len(words) == 0 {
		return nil
	}
	first, last := words[0], words[len(words)-1]
	all := []string{strings.Join(words, "")}
	if len(words) > 1 {
		all = append(all, last+first, last, first, first[:1]+last, last+first[:1])
	}
	out := make([][]int, len(all))
	for i, s := range all {
		for j := range len(s) {
			out[i] = append(out[i], strings.IndexByte(net.CellSymbols, s[j]))
		}
	}
	return out
}
