package rules

import (
	"fmt"

	"gatefold/sheetmodel"
)

var ruleRunNotBegun = Rule{
	Doc: Doc{
		Name: "run-not-begun", Basis: "own logic",
		Help: "A card of a run whose gates nobody has set yet, while cards of the run before are missing, was perhaps taken by mistake: its rows wait until a person says which run it is of.",
	},
	check: func(p *pass) {
		if !p.cr.bound || p.cr.run < 2 || len(p.cr.gates) > 0 || len(p.cr.places) > 0 {
			return
		}
		missing := 0
		for _, cr := range p.courseRuns {
			if cr.run == p.cr.run-1 && cr.course == p.cr.course {
				for _, c := range cr.cards {
					if !c.In { // also one that is not to come, as far as is known: this may be it
						missing++
					}
				}
			}
		}
		if missing == 0 {
			return
		}
		for _, c := range p.cr.cards {
			if !c.In || len(c.rows) == 0 {
				continue
			}
			p.ask(question{
				finding: p.onCard(sheetmodel.Asks, fmt.Sprintf("%s is printed for run %d, which has no gates yet, and %s of run %d %s not in: was the wrong card taken?",
					capital(c.where()), p.cr.run, plural(missing, "card"), p.cr.run-1, verb(missing, "is", "are")), c),
				key: p.key(c.Key.Card), ask: "Which run is this card of?",
				answers: []sheetmodel.Answer{
					{Value: "as-printed", Label: fmt.Sprintf("run %d, as printed", p.cr.run)},
					{Value: answerSetAside, Label: fmt.Sprintf("run %d: set its rows aside here, and type them from the paper as that run's card", p.cr.run-1)},
				},
				hold: c.rows, why: fmt.Sprintf("its card is printed for run %d, which has not begun", p.cr.run),
			})
		}
	},
}
