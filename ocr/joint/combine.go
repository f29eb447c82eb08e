package joint

import "gatefold/sheetmodel"

// Prior is what is known of two tied writings before they are read.
type Prior struct {
	Differ sheetmodel.Prob // that they are not the same bib after all
	Bibs   float64         // how many bibs are about as likely as each other
}

// DefaultPrior is used everywhere. One second box in a hundred holds another racer's bib; a group is
// of the order of a hundred racers. Both only set the scale: the calibrated curve stands behind them.
var DefaultPrior = Prior{Differ: 0.01, Bibs: 100}

// Overlap is the claim that both writings show the same text.
func Overlap(a, b Belief) sheetmodel.Prob {
	var sum sheetmodel.Prob
	for _, v := range a.Texts {
		sum += v.Prob * b.Prob(v.Text)
	}
	return sum
}

// Combine reads two writings of one bib together.
//
// A text's claim is the product of its claims, times Bibs, for two independent readings that agree
// on one bib of a hundred say more than either. Everything else, that they are two different bibs or
// that one is no bib at all, stays as "none of these" with the weight of Differ. Two writings that
// disagree therefore end in "none of these", never in the better one's text.
//
// The result is symmetric in a and b.
func Combine(a, b Belief, p Prior) Belief {
	same, differ := 1-p.Differ, p.Differ
	var out Belief
	var sum sheetmodel.Prob
	for _, v := range a.Texts {
		both := v.Prob * b.Prob(v.Text)
		if both == 0 {
			continue
		}
		sum += both
		out.Texts = append(out.Texts, sheetmodel.Rival{Text: v.Text, Prob: same * sheetmodel.Prob(p.Bibs) * both})
	}
	out.Other = differ * max(1-sum, 0)
	// An unreadable writing agrees with nothing, but it does not contradict either: no bib gains by it.
	out.Other += same * a.Other * b.Other
	out.normalise()
	return out
}
