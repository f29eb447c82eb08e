package rules

import "gatefold/sheetmodel"

var ruleGateMissing = Rule{
	Doc: Doc{
		Name: "gate-missing", Basis: "661.2.2",
		Help:     "Where the code needs a gate and none is written, the row carries no call; a judge who watches one gate only may leave it out, and the gate is then marked as implied.",
		Settings: []string{"code_book"},
	},
	check: func(p *pass) {
		for _, w := range p.cr.written() {
			if !p.cr.bound || !w.GateSure || len(w.gates) > 0 || !w.coded || !w.code.Gate {
				continue
			}
			switch gates := w.card.gates; {
			case len(gates) == 1:
				w.gates = gates
				p.say(p.about(sheetmodel.Informs, capital(w.where())+" names no gate: gate "+gates[0]+" is implied, its judge watches no other.", w))
			case len(gates) == 0:
				p.askRow(w, "none", capital(w.where())+" names no gate, and nobody has said which gates its judge watched.",
					"it names no gate", "Can nobody say at which gate?")
			default:
				p.block(w, "none", capital(w.where())+" names no gate, and its judge watches "+p.cr.gateWords(gates)+".", "it names no gate")
			}
		}
	},
}
