package rules

import (
	"fmt"

	"gatefold/sheetmodel"
)

var ruleSameEvent = Rule{
	Doc: Doc{
		Name: "same-event", Basis: "own logic",
		Help: "What two judges saw of one racer at the same gate is one event with two witnesses, counted once.",
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			who := rows[0].racer
			for _, e := range p.cr.weigh(keep(rows, (*row).live)) {
				if all := e.all(); len(e.beside) > 0 && all[0].card != all[len(all)-1].card {
					p.say(p.about(sheetmodel.Informs, capital(racerName(who.group, who.number))+atGate(e.gate())+" ("+places(e.rows)+
						") may be on "+places(e.beside)+" too: until that is settled it adds nothing.", all...))
				}
				if e.rows[0].card == e.rows[len(e.rows)-1].card {
					continue
				}
				p.say(p.about(sheetmodel.Informs, fmt.Sprintf("%s is on more than one card (%s): one event, counted once.",
					capital(racerName(who.group, who.number))+atGate(e.gate()), places(e.rows)), e.rows...))
			}
		}
	},
}
