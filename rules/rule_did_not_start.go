package rules

import "gatefold/sheetmodel"

var ruleDidNotStart = Rule{
	Doc: Doc{
		Name: "did-not-start", Basis: "own logic",
		Help:     "A row on a bib that the start referee lists as not started is held and asked about: late starts are allowed in many races, and such lists are often wrong at noon.",
		Settings: []string{"did_not_start", "late_starts"},
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			who := rows[0].racer
			rows = keep(rows, func(w *row) bool { return !w.gone() })
			if !p.cr.dns.holds(who) || len(rows) == 0 {
				continue
			}
			name := racerName(who.group, who.number)
			if p.cr.late.holds(who) {
				p.say(p.about(sheetmodel.Informs, capital(name)+" is in the start referee's list of those who did not start, and in the list of late starts ("+places(rows)+"): the rows count.", rows...))
				continue
			}
			sentence := name + " is on a card (" + places(rows) + "), but the start referee's list says " + name + " did not start."
			heavy := keep(rows, p.weighs)
			if len(heavy) == 0 {
				p.say(p.about(sheetmodel.Informs, capital(sentence), rows...))
				continue
			}
			p.ask(question{
				finding: p.about(sheetmodel.Asks, capital(sentence), rows...), key: p.key(name, p.cr.gateKey(rows)), ask: "Did " + name + " start after all?",
				answers: []sheetmodel.Answer{
					{Value: "started", Label: name + " started: the rows count"},
					{Value: answerSetAside, Label: name + " did not start: set the rows aside"},
				},
				hold: heavy, why: "the start referee's list says " + name + " did not start",
			})
		}
	},
}
