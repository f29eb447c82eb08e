package rules

import "gatefold/sheetmodel"

var ruleGateRange = Rule{
	Doc: Doc{
		Name: "gate-range", Basis: "common practice, no source",
		Help: "Several gates in one row are one event, at the first of them from the start down.",
	},
	check: func(p *pass) {
		for _, w := range p.cr.written() {
			if len(w.gates) > 1 && len(w.asides) == 0 {
				p.say(p.about(sheetmodel.Informs, capital(w.where())+": "+p.cr.gateWords(w.gates)+" are one event, at gate "+w.gates[0]+".", w))
			}
		}
	},
}
