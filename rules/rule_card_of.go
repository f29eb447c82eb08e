package rules

import (
	"fmt"

	"gatefold/sheetmodel"
)

var ruleCardOf = Rule{
	Doc: Doc{
		Name: "card-of", Basis: "common practice, no source",
		Help: "A card that says it is one of several needs the others of its place.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if p.race.Rules.SmallCards || !p.cr.bound || !c.In || c.CardOf <= 0 || c.CardTotal <= 1 {
				continue
			}
			have := map[int]bool{c.CardOf: true}
			first := true
			for _, other := range p.cr.partners(c) {
				if other.CardTotal == c.CardTotal && other.CardOf > 0 {
					have[other.CardOf] = true
					first = first && c.Key.Card < other.Key.Card
				}
			}
			if len(have) >= c.CardTotal || !first {
				continue // all there, or already asked on another of them
			}
			missing := "the other one isn't in"
			if n := c.CardTotal - len(have); c.CardTotal > 2 {
				missing = plural(n, "other card") + " " + verb(n, "isn't", "aren't") + " in"
			}
			p.ask(question{
				finding: p.onCard(sheetmodel.Asks, fmt.Sprintf("%s says it is card %d of %d: %s.", capital(c.where()), c.CardOf, c.CardTotal, missing), c),
				key:     p.key(c.Key.Card, fmt.Sprintf("%d-%d", c.CardOf, c.CardTotal)), ask: "Is there a further card of this judge?",
				answers: []sheetmodel.Answer{{Value: "none", Label: "no: there is no further card"}},
			})
		}
	},
}
