package rules

import "gatefold/sheetmodel"

var ruleSameEvent = Rule{
	Doc: Doc{
		Name: "same-event", Basis: "own logic",
		Help: "What two judges saw of one racer at the same gate is one event with two witnesses, counted once.",
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			for _, e := range p.cr.events(keep(rows, (*row).live)) {
				if e.rows[0].card == e.rows[len(e.rows)-1].card {
					continue
				}
				who := rows[0].racer
				p.say(p.about(sheetmodel.Informs, capital(racerName(who.group, who.number))+atGate(e.gate())+
					" is on more than one card ("+places(e.rows)+"): one event, counted once.", e.rows...))
			}
		}
	},
}
