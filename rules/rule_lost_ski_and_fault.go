package rules

import (
	"slices"

	"gatefold/sheetmodel"
)

var ruleLostSkiAndFault = Rule{
	Doc: Doc{
		Name: "lost-ski-and-fault", Basis: "661.4.1",
		Help: "Where a racer lost a ski and made a fault at the same gate, the fault leads; a person looks at both.",
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			live := keep(rows, (*row).live)
			firm, open := p.cr.events(keep(live, (*row).firm)), p.cr.events(keep(live, (*row).notFirm))
			events := append(slices.Clone(firm), open...)
			for i, lost := range events {
				if !lost.lost() {
					continue
				}
				at := slices.IndexFunc(events, func(e event) bool {
					return e.code.Effect == sheetmodel.EffectPropose && e.attempt == lost.attempt && len(e.gates) > 0 && meet(e.gates, lost.gates)
				})
				if at < 0 {
					continue
				}
				leads := "the fault leads."
				if i >= len(firm) || at >= len(firm) {
					leads = "if both are settled so, the fault leads."
				}
				who := rows[0].racer
				both := append(slices.Clone(events[at].rows), lost.rows...)
				p.say(p.about(sheetmodel.Asks, capital(racerName(who.group, who.number))+" lost a ski and has a fault"+atGate(events[at].gate())+
					" ("+places(both)+"): "+leads, both...))
			}
		}
	},
}
