package ocr

import (
	"gatefold/ocr/joint"
	"gatefold/sheetmodel"
)

// combBelief turns what boxes may hold, left to right, into what the field may say.
//
// A text is 1 to len(boxes) digits in boxes side by side, anywhere in the comb: left, right or in the
// middle; leading zeros stay. Its claim is the product over all boxes, the empty ones too, summed over
// its places. Everything else has mass of its own as "none of these": a box with something that is no
// digit (a dash, a letter, the V of a forerunner), a gap between digits, all boxes empty. So a field
// that can't be read gives no confident bib.
//
// least is the smallest claim worth listing; what is dropped goes to "none of these".
func combBelief(boxes []Dist, least float64) joint.Belief {
	claims := map[string]float64{}
	n := len(boxes)
	// before[i]: boxes 0 to i-1 are all empty; after[i]: boxes i to the last are.
	before, after := make([]float64, n+1), make([]float64, n+1)
	before[0], after[n] = 1, 1
	for i := range boxes {
		before[i+1] = before[i] * boxes[i][ClassEmpty]
	}
	for i := n - 1; i >= 0; i-- {
		after[i] = after[i+1] * boxes[i][ClassEmpty]
	}
	text := make([]byte, 0, n)
	var walk func(at int, claim float64)
	walk = func(at int, claim float64) {
		if len(text) > 0 {
			if c := claim * after[at]; c > 0 {
				claims[string(text)] += c
			}
		}
		if at == n {
			return
		}
		for d := range 10 {
			if c := claim * boxes[at][d]; c >= least*1e-3 {
				text = append(text, byte('0'+d))
				walk(at+1, c)
				text = text[:len(text)-1]
			}
		}
	}
	for start := range n {
		walk(start, before[start])
	}
	return toBelief(claims, least)
}

// toBelief lists the claims that are worth it; the rest of 1 is "none of these".
func toBelief(claims map[string]float64, least float64) joint.Belief {
	var texts []sheetmodel.Rival
	for t, c := range claims {
		if c >= least {
			texts = append(texts, sheetmodel.Rival{Text: t, Prob: sheetmodel.Prob(c)})
		}
	}
	return joint.NewBelief(texts, restOf(texts))
}

// restOf is what the claims leave of 1.
func restOf(texts []sheetmodel.Rival) sheetmodel.Prob {
	rest := sheetmodel.Prob(1)
	for _, t := range texts {
		rest -= t.Prob
	}
	return max(rest, 0)
}

// mean is what two readers make of a box together: the middle of both. Where one is sure and the other
// disagrees, neither wins; a product would let the surer one win.
func mean(a, b []Dist) []Dist {
	m := make([]Dist, len(a))
	for i := range a {
		for c := range m[i] {
			m[i][c] = (a[i][c] + b[i][c]) / 2
		}
	}
	return m
}

// certainlyEmpty is what a box without a trace of ink holds. The small rest is for digits too faint to
// leave any: without it a field with a lost last digit could be as certain as a whole one.
func certainlyEmpty() Dist {
	const lost = 1e-5
	d := Dist{ClassEmpty: 1 - lost, ClassOther: lost / 2}
	for i := range 10 {
		d[i] = lost / 20
	}
	return d
}
