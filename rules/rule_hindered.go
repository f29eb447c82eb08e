package rules

import (
	"fmt"

	"gatefold/sheetmodel"
)

var ruleHindered = Rule{
	Doc: Doc{
		Name: "hindered", Basis: "623",
		Help:     "A hindrance is information: whether there is a re-run is the jury's decision.",
		Settings: []string{"re_runs"},
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			who := rows[0].racer
			for _, e := range p.cr.weigh(hindrances(rows)) {
				words := racerName(who.group, who.number) + " was hindered" + atGate(e.gate())
				sentence := fmt.Sprintf("%s (%s): a re-run is the jury's to decide.", words, places(e.all()))
				if p.cr.reruns.holds(who) {
					sentence = fmt.Sprintf("%s (%s): the re-run list has the racer.", words, places(e.all()))
				}
				p.say(p.about(sheetmodel.Informs, capital(sentence), e.all()...))
			}
		}
	},
}

// hindrances returns the rows that tell of a hindrance.
func hindrances(rows []*row) []*row {
	return keep(rows, (*row).live, func(w *row) bool { return w.code.Effect == sheetmodel.EffectHindered })
}

// atGate returns " at gate 7", or nothing where no gate is written.
func atGate(gate string) string {
	if gate == "" {
		return ""
	}
	return " at gate " + gate
}
