package rules

import (
	"fmt"
	"strconv"

	"gatefold/sheetmodel"
)

var ruleRowCount = Rule{
	Doc: Doc{
		Name: "row-count", Basis: "own logic",
		Help: "The number of rows that stand, written by the judge at hand-in, must be the number of rows with ink that are not struck out; a card with neither is not answered.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if !c.In || !p.cr.bound {
				continue
			}
			standing := len(keep(c.rows, func(w *row) bool { return !w.Struck && !w.Blank }))
			var sentence string
			written := "none"
			switch {
			case c.RowCount == nil && len(c.rows) == 0:
				sentence = capital(c.where()) + ": no row and no number of rows. That is not answered, not \"nothing happened\"."
			case c.RowCount == nil || *c.RowCount == standing:
				continue
			default:
				written = strconv.Itoa(*c.RowCount)
				sentence = fmt.Sprintf("%s: the number at its foot is read as %s, the card has %d.", capital(c.where()), plural(*c.RowCount, "row"), standing)
				if *c.RowCount > standing {
					sentence += " A row may be lost or on another card."
				}
			}
			p.ask(question{
				finding: p.onCard(sheetmodel.Asks, sentence, c), key: p.key(c.Key.Card, written, standing),
				ask:     "Are the rows on this card all there are?",
				answers: []sheetmodel.Answer{{Value: "all", Label: "yes: asked the judge, the rows on the card are all"}},
			})
		}
	},
}
