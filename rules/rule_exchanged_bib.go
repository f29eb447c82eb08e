package rules

import "gatefold/sheetmodel"

var ruleExchangedBib = Rule{
	Doc: Doc{
		Name: "exchanged-bib", Basis: "606.1",
		Help:     "Bibs are worn as they were issued; where two racers are known to have exchanged theirs, or one racer changed the bib, a row on either is held until a person says who it was.",
		Settings: []string{"exchanged_bibs"},
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			who := rows[0].racer
			other, ok := p.cr.exchanged[who]
			if !ok {
				continue
			}
			name, worn := racerName(who.group, who.number), racerName(other.group, other.number)
			for _, w := range keep(rows, func(w *row) bool { return !w.gone() }) {
				p.askRow(w, name, capital(w.where())+": "+name+" and "+worn+" are listed as exchanged bibs.",
					name+" and "+worn+" are listed as exchanged bibs", "Does the row count for "+name+", as the judge wrote it?",
					sheetmodel.Answer{Value: answerCounts, Label: "yes: the line names the bib as written, the referee knows who wore it"})
			}
		}
	},
}
