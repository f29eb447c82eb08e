package rules

import (
	"fmt"
	"strconv"

	"gatefold/sheetmodel"
)

var ruleRowCount = Rule{
	Doc: Doc{
		Name: "row-count", Basis: "own logic",
		Help: "The number of rows that stand, written by the judge at hand-in, must be the number of rows with ink that are not struck out; rows that only look so are settled first; a card with neither is not answered.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if !c.In || !p.cr.bound {
				continue
			}
			standing := c.standing()
			open := len(keep(c.rows, func(w *row) bool { return w.strike == strikeOpen || w.strike == strikeAside }))
			var sentence string
			written := "none"
			switch {
			case c.RowCount == nil && len(c.rows) == 0:
				sentence = capital(c.where()) + ": no row and no number of rows. That is not answered, not \"nothing happened\"."
			case c.RowCount == nil || *c.RowCount >= standing && *c.RowCount <= standing+open:
				continue // it is right, or may be once it is known which rows are struck out
			default:
				written = strconv.Itoa(*c.RowCount)
				sentence = fmt.Sprintf("%s: the number at its foot is read as %s, the card has %d%s.", capital(c.where()), plural(*c.RowCount, "row"), standing, c.leftOut(open))
				if *c.RowCount > standing {
					sentence += " A row may be lost or on another card."
				}
			}
			p.ask(question{
				finding: p.onCard(sheetmodel.Asks, sentence, c), key: p.key(c.Key.Card, written, rowsKey(c.standingRows())),
				ask:     "Are the rows on this card all there are?",
				answers: []sheetmodel.Answer{{Value: "all", Label: "yes: asked the judge, the rows on the card are all"}},
			})
		}
	},
}

// leftOut says how many rows a count leaves out as struck, open of them because they look so.
func (c *card) leftOut(open int) string {
	out := len(keep(c.rows, func(w *row) bool { return w.Struck })) - open
	var words []string
	if out > 0 {
		words = append(words, fmt.Sprintf("%d that %s struck out", out, verb(out, "is", "are")))
	}
	if open > 0 {
		words = append(words, fmt.Sprintf("%d that %s struck out", open, verb(open, "looks", "look")))
	}
	if len(words) == 0 {
		return ""
	}
	return ", not counting " + list(words)
}
