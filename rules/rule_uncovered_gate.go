package rules

import "gatefold/sheetmodel"

var ruleUncoveredGate = Rule{
	Doc: Doc{
		Name: "uncovered-gate", Basis: "common practice, no source",
		Help: "As soon as judges are placed, every gate of the run must be in somebody's section.",
	},
	check: func(p *pass) {
		p.cr.watched()
		if len(p.cr.watch) == 0 {
			return // nobody is placed yet
		}
		var open []string
		for _, g := range p.cr.gates {
			if len(p.cr.watch[g]) == 0 {
				open = append(open, g)
			}
		}
		if len(open) == 0 {
			return
		}
		sentence := capital(p.cr.gateWords(open)) + ": nobody's card covers them."
		if len(open) == 1 {
			sentence = capital(p.cr.gateWords(open)) + ": nobody's card covers it."
		}
		p.say(sheetmodel.Finding{Severity: sheetmodel.Warns, Gate: open[0], Sentence: sentence})
		p.gap(sentence)
	},
}

// watched fills in which cards watch which gate.
func (cr *courseRun) watched() {
	cr.watch = map[string][]*card{}
	for _, c := range cr.cards {
		if c.elsewhere {
			continue
		}
		for _, g := range c.gates {
			cr.watch[g] = append(cr.watch[g], c)
		}
	}
}
