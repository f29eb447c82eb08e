package rules

import "gatefold/sheetmodel"

var ruleRingedCourse = Rule{
	Doc: Doc{
		Name: "ringed-course", Basis: "own logic",
		Help: "The course ringed by the judge must be the one printed on the card; until that is settled no row of the card carries a call.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if !p.cr.bound || !c.In || c.Ringed == "" || c.Ringed == c.Key.Course {
				continue
			}
			given := p.ask(question{
				finding: p.onCard(sheetmodel.Asks, capital(c.where())+" is printed for "+c.Key.Course+", but the ring in its head is read as "+c.Ringed+".", c),
				key:     p.key(c.Key.Card, c.Ringed),
				ask:     "On which course was this card used?",
				answers: []sheetmodel.Answer{
					{Value: answerCounts, Label: "on " + c.Key.Course + ", as printed"},
					{Value: answerSetAside, Label: "on " + c.Ringed + ": set its rows aside here and bind it there"},
				},
				hold: c.rows, why: "printed " + c.Key.Course + ", ring read as " + c.Ringed,
			})
			c.elsewhere = c.elsewhere || given == answerSetAside
		}
	},
}
