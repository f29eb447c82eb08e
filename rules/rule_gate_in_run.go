package rules

import "slices"

var ruleGateInRun = Rule{
	Doc: Doc{
		Name: "gate-in-run", Basis: "own logic",
		Help: "A gate that the run doesn't have carries no call.",
	},
	check: func(p *pass) {
		if len(p.cr.gates) == 0 {
			return
		}
		for _, w := range p.cr.written() {
			if g := p.cr.strange(w); len(g) > 0 {
				p.block(w, w.Gate, capital(w.where())+" names "+p.cr.gateWords(g)+", but this run has "+p.cr.gateWords(p.cr.gates)+".",
					p.cr.gateWords(g)+" is not in this run")
			}
		}
	},
}

// strange returns the row's gates that the run doesn't have.
func (cr *courseRun) strange(w *row) []string {
	return slices.DeleteFunc(slices.Clone(w.gates), func(g string) bool { _, ok := cr.index[g]; return ok })
}
