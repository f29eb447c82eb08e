package rules

import (
	"slices"

	"gatefold/sheetmodel"
)

var ruleRowTwice = Rule{
	Doc: Doc{
		Name: "row-twice", Basis: "own logic",
		Help:     "A row written twice on one card is one event; where the re-run list is not known it may be two attempts, and is asked about.",
		Settings: []string{"re_runs"},
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			rows = keep(rows, (*row).live, p.accusing)
			// Of rows in two attempts the first is the one that is settled.
			rows = slices.Concat(tiers(rows)...)
			seen := map[*row]bool{}
			for i, w := range rows {
				if seen[w] {
					continue
				}
				same := []*row{w}
				for _, other := range rows[i+1:] {
					if other.card == w.card && other.Code == w.Code && other.attempt == w.attempt && slices.Equal(other.gates, w.gates) {
						same = append(same, other)
						seen[other] = true
					}
				}
				if len(same) > 1 {
					p.twice(same)
				}
			}
		}
	},
}

func (p *pass) twice(rows []*row) {
	w := rows[0]
	name := racerName(w.racer.group, w.racer.number)
	sentence := capital(name) + atGate(w.gate()) + " is written " + times(len(rows)) + " on one card (" + places(rows) + ")"
	if p.cr.reruns.known() {
		p.say(p.about(sheetmodel.Warns, sentence+": counted once.", rows...))
		return
	}
	given := p.ask(question{
		finding: p.about(sheetmodel.Asks, sentence+", and the re-run list is not known.", rows...),
		key:     p.key(w.Ref.Card, name, w.gate(), rowsKey(rows)), ask: "Is this one event, or one in each attempt?",
		answers: []sheetmodel.Answer{
			{Value: "once", Label: "one event, written more than once"},
			{Value: answerRerun, Label: "one in each attempt"},
			offerSetAside,
		},
		hold: rows, why: name + atGate(w.gate()) + " is written more than once: one event, or two attempts",
	})
	if given == answerRerun {
		for _, later := range rows[1:] {
			later.attempt = 2
		}
	}
}
