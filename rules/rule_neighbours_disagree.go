package rules

import (
	"slices"
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

var ruleNeighboursDisagree = Rule{
	Doc: Doc{
		Name: "neighbours-disagree", Basis: "common practice, no source",
		Help: "Where one judge wrote a fault and another, who marks every racer, marked the same racer as passed at the same gate, a person asks both; the silence of a card for faults alone denies nothing.",
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			who := rows[0].racer
			for _, e := range p.cr.weigh(keep(rows, (*row).live, p.accusing, func(w *row) bool { return !w.lost() && w.gate() != "" })) {
				var against, denied []string
				var others []*card
				for _, c := range p.cr.watch[e.gate()] {
					if c.In && slices.Contains(c.Passed, sheetmodel.Bib{Group: who.group, Number: who.number}) {
						against, denied = append(against, c.where()), append(denied, strconv.Itoa(c.Key.Card))
						others = append(others, c)
					}
				}
				if len(against) == 0 {
					continue
				}
				name := racerName(who.group, who.number)
				p.ask(question{
					finding: p.about(sheetmodel.Asks, capital(name)+" has a fault"+atGate(e.gate())+" ("+places(e.all())+"), but "+list(against)+" "+
						verb(len(against), "marks", "mark")+" "+name+" as passed.", e.all()...),
					// Another judge's mark was not asked about yet.
					key: p.key(e.about(name, p.cr.gateKey(e.all()), "card-"+strings.Join(denied, ","))...), ask: "Did " + name + " pass" + atGate(e.gate()) + "?",
					answers: []sheetmodel.Answer{
						{Value: answerCounts, Label: "no, asked both judges: the fault counts"},
						{Value: answerSetAside, Label: "yes, or in doubt for the racer: set the fault aside"},
					},
					hold: e.all(), of: others, why: "another judge marks " + name + " as passed" + atGate(e.gate()),
				})
			}
		}
	},
}
