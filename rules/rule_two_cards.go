package rules

import (
	"fmt"

	"gatefold/sheetmodel"
)

var ruleTwoCards = Rule{
	Doc: Doc{
		Name: "two-cards", Basis: "common practice, no source",
		Settings: []string{"small_cards", "relief"},
		Help:     "Two cards for one place are normal if the placing list has both or says who took over or if they are numbered as card 1 and 2 of one judge; else a person says why, once.",
	},
	check: func(p *pass) {
		if p.race.Rules.SmallCards {
			return // many cards of one place are how this race does it
		}
		for _, c := range p.cr.cards {
			for _, other := range p.cr.partners(c) {
				if other.Key.Card <= c.Key.Card || explained(c, other) {
					continue
				}
				sentence := fmt.Sprintf("%s and %s are both for %s.", capital(c.where()), other.where(), p.cr.gateWords(other.gates))
				if c.Spare || other.Spare {
					sentence += " The spare looks like a continuation."
				}
				f := sheetmodel.Finding{Severity: sheetmodel.Asks, Sentence: sentence}
				p.ask(question{
					finding: f, key: p.key(fmt.Sprintf("%d+%d", c.Key.Card, other.Key.Card)), of: []*card{c, other}, gates: true,
					ask: "Why are there two cards for this place?",
					answers: []sheetmodel.Answer{
						{Value: "continuation", Label: "one judge went on writing on the second card"},
						{Value: "two-judges", Label: "two judges stood there"},
						{Value: "relieved", Label: "one judge took over from the other"},
					},
				})
			}
		}
	},
}

// partners returns the other cards that are in for the same place.
func (cr *courseRun) partners(c *card) []*card {
	if !c.In || len(c.gates) == 0 {
		return nil
	}
	var found []*card
	for _, other := range cr.watch[c.gates[0]] {
		if other != c && other.In && samePlace(c, other) {
			found = append(found, other)
		}
	}
	// A smaller section that starts further down watches the last gate or lies inside.
	for _, g := range c.gates[1:] {
		for _, other := range cr.watch[g] {
			if other != c && other.In && other.gates[0] == g && samePlace(c, other) {
				found = append(found, other)
			}
		}
	}
	return found
}

// explained reports whether the cards themselves or the placing list say why there are two.
func explained(a, b *card) bool {
	numbered := a.CardTotal > 1 && a.CardTotal == b.CardTotal && a.CardOf != b.CardOf && a.CardOf > 0 && b.CardOf > 0
	return numbered || a.placed && b.placed || len(a.place.Relief)+len(b.place.Relief) > 0
}
