package rules

import (
	"slices"

	"gatefold/sheetmodel"
)

var ruleGateInSection = Rule{
	Doc: Doc{
		Name: "gate-in-section", Basis: "common practice, no source",
		Help: "A gate that the judge doesn't watch is asked about: the neighbour may have seen it, or the number is a slip.",
	},
	check: func(p *pass) {
		for _, w := range p.cr.written() {
			out := p.cr.outside(w)
			if len(out) == 0 || len(p.cr.strange(w)) > 0 || !p.cr.bound || w.neighbours {
				continue
			}
			sentence := capital(w.where()) + " names " + p.cr.gateWords(out) + ", but its judge watches " + p.cr.gateWords(w.card.gates)
			var others []string
			for _, c := range p.cr.watch[out[0]] {
				others = append(others, c.where())
			}
			if len(others) > 0 {
				sentence += "; " + p.cr.gateWords(out[:1]) + " is on " + list(others)
			}
			p.askRow(w, w.Gate, sentence+".", p.cr.gateWords(out)+" is not its judge's", "Did this judge see it at "+p.cr.gateWords(out)+"?",
				sheetmodel.Answer{Value: answerCounts, Label: "yes: the row counts as written"})
		}
	},
}

// outside returns the row's gates that its judge doesn't watch; none where the section isn't known.
func (cr *courseRun) outside(w *row) []string {
	if len(w.card.gates) == 0 {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(w.gates), func(g string) bool { return slices.Contains(w.card.gates, g) })
}
