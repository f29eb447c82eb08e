package rules

import "gatefold/sheetmodel"

// answerMended says that a list holds the bib by now. It is held against the list, not taken as said.
const answerMended = "out"

var ruleLeftButFinished = Rule{
	Doc: Doc{
		Name: "left-but-finished", Basis: "614.2.3",
		Help:     "Where a judge saw a racer stop or leave the course, the did-not-finish list should have the bib; if it doesn't, the bib is wrong or the racer went on.",
		Settings: []string{"did_not_finish"},
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			who, left := rows[0].racer, leavings(rows)
			if len(left) == 0 || !p.cr.dnf.known() || p.cr.dnf.holds(who) {
				continue
			}
			if len(hindrances(rows)) > 0 || p.cr.reruns.holds(who) {
				continue // stopped for the hindrance, as the rule asks
			}
			name := racerName(who.group, who.number)
			q := question{
				finding: p.about(sheetmodel.Asks, capital(places(left))+": "+name+" stopped or left the course"+atGate(p.cr.events(left)[0].gate())+
					"; the did-not-finish list doesn't have "+name+": the list lacks it, the bib is wrong, or the racer went on. Ask the finish referee and the judge.", left...),
				key: p.key(name, p.cr.gateKey(left)), ask: "Did " + name + " finish? The finish referee knows; leave it open until then.", aside: left, why: "not this racer", jury: "finished",
				answers: []sheetmodel.Answer{
					{Value: "finished", Label: "yes, finished: put it before the jury, the draft lists it there"},
					{Value: answerMended, Label: "no: the did-not-finish list has it now"},
					{Value: answerSetAside, Label: "the judge's bib is wrong: set the row aside"},
				},
			}
			p.ask(p.unlessDone(q, answerMended, "not-mended", " It was answered that the list is mended, but it still doesn't have the bib: write it there, or answer otherwise."))
		}
	},
}
