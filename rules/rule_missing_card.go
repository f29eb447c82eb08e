package rules

import "gatefold/sheetmodel"

var ruleMissingCard = Rule{
	Doc: Doc{
		Name: "missing-card", Basis: "665.1",
		Help: "After each run every judge's card must be in; a card that isn't keeps the draft incomplete until it comes or a person gives the reason.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if c.In || !p.cr.bound {
				continue
			}
			name := "Card " + sheetLabel(c)
			if len(c.gates) > 0 {
				name += p.cr.gateWords(c.gates) + ")"
			} else {
				name += "gates not known)"
			}
			if c.GapReason != "" {
				p.say(p.onCard(sheetmodel.Informs, name+": no card. Closed by a person: "+c.GapReason+".", c))
				continue
			}
			p.say(p.onCard(sheetmodel.Warns, name+": no card.", c))
			p.gap(name + ": no card.")
		}
	},
}
