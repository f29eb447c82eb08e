package rules

import "gatefold/sheetmodel"

var ruleGatesNotKnown = Rule{
	Doc: Doc{
		Name: "gates-not-known", Basis: "own logic",
		Help: "Where the gates of a course or of a card are not known, its rows can't be checked against them, and the draft is not complete.",
	},
	check: func(p *pass) {
		if !p.cr.bound {
			return
		}
		for _, c := range p.cr.cards {
			if c.In && len(c.gates) == 0 {
				sentence := capital(c.where()) + ": nobody has said which gates its judge watched."
				p.say(p.onCard(sheetmodel.Warns, sentence, c))
				p.gap(sentence)
			}
		}
		if len(p.cr.gates) == 0 {
			sentence := "The gates of this course in this run are not known, so no gate on a card can be checked."
			p.say(sheetmodel.Finding{Severity: sheetmodel.Warns, Sentence: sentence})
			p.gap(sentence)
		}
	},
}
