package rules

import (
	"fmt"

	"gatefold/sheetmodel"
)

var ruleMissingBack = Rule{
	Doc: Doc{
		Name: "missing-back", Basis: "661.2",
		Help: "A bib under a drawing may have no row, and only the back shows it: a card whose front alone is photographed keeps the draft incomplete until its back is in, somebody has seen that no fault is drawn there, or a person gives the reason.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if !c.In || !p.cr.bound || c.BackState == BackIn {
				continue
			}
			gates := "gates not known)"
			if len(c.gates) > 0 {
				gates = p.cr.gateWords(c.gates) + ")"
			}
			sentence := "Card " + sheetLabel(c) + gates + ": its back is not in."
			if c.BackState == BackClosed {
				p.say(p.onCard(sheetmodel.Informs, sentence+" Closed by a person: "+c.BackReason+".", c))
				continue
			}
			if c.BackAgainst > 0 {
				sentence += fmt.Sprintf(" No fault is drawn there, a person says, and row %d names a drawing, or may.", c.BackAgainst)
			}
			p.say(p.onCard(sheetmodel.Warns, sentence, c))
			p.gap(sentence)
		}
	},
}
