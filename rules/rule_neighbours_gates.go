package rules

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

var ruleNeighboursGates = Rule{
	Doc: Doc{
		Name: "neighbours-gates", Basis: "own logic",
		Help: "A card all of whose rows carry gates of one neighbour's section was perhaps used at the neighbour's place: asked once for the card, instead of for each row.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if !p.cr.bound || !c.In || len(c.gates) == 0 {
				continue
			}
			rows := keep(c.rows, func(w *row) bool {
				return !w.Struck && w.BibState != sheetmodel.BibSetAside && len(w.asides) == 0 && len(w.gates) > 0 && len(p.cr.strange(w)) == 0
			})
			if len(rows) < 2 || slices.ContainsFunc(rows, func(w *row) bool { return len(p.cr.outside(w)) < len(w.gates) }) {
				continue
			}
			other := p.cr.neighbourOf(rows)
			if other == nil {
				continue
			}
			c.neighbours = true
			f := p.onCard(sheetmodel.Asks, fmt.Sprintf("%s rows of %s, who watches %s, carry gates of %s, who watches %s.",
				orElse(map[int]string{2: "Both"}[len(rows)], fmt.Sprintf("All %d", len(rows))), c.where(), p.cr.gateWords(c.gates), other.where(), p.cr.gateWords(other.gates)), c)
			p.ask(question{
				finding: f, key: p.key(c.Key.Card, other.Key.Card, rowsAndGates(rows)), of: []*card{c, other}, gates: true, ask: "Are the gates of its rows right?",
				answers: []sheetmodel.Answer{
					{Value: answerCounts, Label: "the gates are as the judge saw them: the rows count as written"},
					{Value: answerSetAside, Label: "the numbers are wrong: set its rows aside"},
				},
				hold: rows, byRows: true, why: "all rows of its card carry gates of " + other.where(),
			})
		}
	},
}

// neighbourOf returns the first card that watches every gate of the rows, or nil: another one, as their own watches none.
func (cr *courseRun) neighbourOf(rows []*row) *card {
	for _, other := range cr.watch[rows[0].gates[0]] {
		all := !slices.ContainsFunc(rows, func(w *row) bool {
			return slices.ContainsFunc(w.gates, func(g string) bool { return !slices.Contains(other.gates, g) })
		})
		if all {
			return other
		}
	}
	return nil
}

// rowsAndGates names rows with their gates in a question's key: as many rows may be others by now.
func rowsAndGates(rows []*row) string {
	var all []string
	for _, w := range rows {
		all = append(all, fmt.Sprintf("%d:%s", w.Ref.Row, strings.Join(w.gates, "-")))
	}
	return strings.Join(all, ",")
}
