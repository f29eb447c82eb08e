package rules

import "gatefold/sheetmodel"

var ruleUnboundCard = Rule{
	Doc: Doc{
		Name: "unbound-card", Basis: "own logic",
		Help: "A spare that nobody has bound to a run and course yet, or a card of a run or course that the race doesn't have, carries nothing until it is bound.",
	},
	check: func(p *pass) {
		if p.cr.bound {
			return
		}
		for _, c := range p.cr.cards {
			if !c.In {
				continue
			}
			what := "is bound to no run and course yet"
			if !c.Spare && c.Key.Run != 0 {
				what = "belongs to a run or course that the race doesn't have"
			}
			sentence := capital(c.where()) + " " + what + ": bind it before its rows can count."
			p.say(p.onCard(sheetmodel.Asks, sentence, c))
			p.gap(sentence)
			for _, w := range c.rows {
				w.holds = append(w.holds, c.where()+" "+what)
			}
		}
	},
}
