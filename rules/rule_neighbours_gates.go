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
			other := p.cr.neighbourOf(rows)
			if other == nil {
				p.saidOfSettled(c, rows)
				continue
			}
			which := orElse(map[int]string{2: "Both"}[len(rows)], fmt.Sprintf("All %d", len(rows))) + " rows"
			p.askNeighbours(p.neighbours(c, other, rows, which), c.rows)
		}
	},
}

// neighbours is the question about rows of a card that carry a neighbour's gates.
func (p *pass) neighbours(c, other *card, rows []*row, which string) question {
	return question{
		finding: p.onCard(sheetmodel.Asks, fmt.Sprintf("%s of %s, who watches %s, carry gates of %s, who watches %s.",
			which, c.where(), p.cr.gateWords(c.gates), other.where(), p.cr.gateWords(other.gates)), c),
		key: p.key(c.Key.Card, other.Key.Card, rowsAndGates(rows)), of: []*card{c, other}, gates: true, ask: "Are the gates of its rows right?",
		answers: []sheetmodel.Answer{
			{Value: answerCounts, Label: "the gates are as the judge saw them: the rows count as written"},
			{Value: answerSetAside, Label: "the numbers are wrong: set its rows aside"},
		},
		hold: rows, byRows: true, why: "all rows of its card carry gates of " + other.where(),
	}
}

// askNeighbours asks it, so that some of the card's rows aren't asked about one by one.
func (p *pass) askNeighbours(q question, instead []*row) {
	for _, w := range instead {
		w.neighbours = true
	}
	p.ask(q)
}

// saidOfSettled keeps what was answered of the settled rows of a card, where only a row short of looks doesn't carry the neighbour's gates.
// Each would be asked about anew, and a proposal that rests on one would move to another gate meanwhile.
func (p *pass) saidOfSettled(c *card, rows []*row) {
	settled := keep(rows, func(w *row) bool { return w.BibState == sheetmodel.BibTwoLooks })
	other := p.cr.neighbourOf(settled)
	if other == nil {
		return
	}
	q := p.neighbours(c, other, settled, capital(rowNumbers(settled)))
	given := p.given(q.key, p.subjectOf(&q))
	if slices.ContainsFunc(q.answers, func(a sheetmodel.Answer) bool { return a.Value == given }) {
		p.askNeighbours(q, settled)
	}
}

// neighbourOf returns the first card that watches every gate of rows of which their own card watches none; nil: none does, or one row alone
// is there.
func (cr *courseRun) neighbourOf(rows []*row) *card {
	if len(rows) < 2 || slices.ContainsFunc(rows, func(w *row) bool { return len(cr.outside(w)) < len(w.gates) }) {
		return nil
	}
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
