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
			lacks := ": no card."
			if c.BackOnly {
				lacks = ": no photo of its front, where the rows are."
			}
			if c.GapReason != "" {
				p.say(p.onCard(sheetmodel.Informs, name+lacks+" Closed by a person: "+c.GapReason+".", c))
				continue
			}
			p.say(p.onCard(sheetmodel.Warns, name+lacks, c))
			p.gap(name + lacks)
		}
	},
}
