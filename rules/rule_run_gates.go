package rules

import (
	"slices"

	"gatefold/sheetmodel"
)

var ruleRunGates = Rule{
	Doc: Doc{
		Name: "run-gates", Basis: "906.1",
		Help: "Gates are set anew between the runs; a card of run 2 whose header gives the gates that its place had in run 1 is asked about.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if p.race.Rules.SmallCards {
				continue // nobody writes a header on a small card
			}
			if earlier := p.earlierPlace(c); earlier != nil {
				p.askGates(c, "those were its gates in run 1")
			}
		}
	},
}

// earlierPlace returns the gates of the same card or place in an earlier run, if the header names
// those and not the gates of its own run.
func (p *pass) earlierPlace(c *card) []string {
	if p.cr.run < 2 || !c.headerDiffers() {
		return nil
	}
	for number := 1; number < p.cr.run; number++ {
		run := p.race.Run(number)
		if run == nil || run.Course(p.cr.course) == nil {
			continue
		}
		for _, place := range run.Course(p.cr.course).Places {
			mine := place.Card == c.Key.Card || place.Name != "" && place.Name == c.place.Name
			if mine && headerNames(c, place.Gates) {
				return place.Gates
			}
		}
	}
	return nil
}

// headerDiffers reports whether the header's gates are written and not those of the placing list.
func (c *card) headerDiffers() bool {
	return c.In && len(c.gates) > 0 && (c.HeaderFrom != "" || c.HeaderTo != "") && !headerNames(c, c.gates)
}

// headerNames reports whether the written ends of a section are those of the given gates, either way up.
func headerNames(c *card, gates []string) bool {
	if len(gates) == 0 {
		return false
	}
	first, last := gates[0], gates[len(gates)-1]
	fits := func(from, to string) bool {
		return (c.HeaderFrom == "" || c.HeaderFrom == from) && (c.HeaderTo == "" || c.HeaderTo == to)
	}
	return fits(first, last) || fits(last, first)
}

// askGates asks which gates of a card count and holds its rows; the answer decides.
func (p *pass) askGates(c *card, remark string) {
	written := c.HeaderFrom
	if c.HeaderTo != "" && c.HeaderTo != c.HeaderFrom {
		written = orElse(c.HeaderFrom, "?") + "-" + c.HeaderTo
	}
	placed := p.cr.gateWords(c.gates)
	sentence := capital(c.where()) + " was placed at " + placed + ", but its header is read as " + written
	if remark != "" {
		sentence += ": " + remark
	}
	answers := []sheetmodel.Answer{{Value: "placed", Label: placed + ", as placed"}}
	labels := p.cr.splitGates(orElse(c.HeaderFrom, c.HeaderTo) + "-" + orElse(c.HeaderTo, c.HeaderFrom))
	inRun := !slices.ContainsFunc(labels, func(g string) bool { _, ok := p.cr.index[g]; return !ok })
	if c.HeaderFrom != "" && c.HeaderTo != "" && inRun {
		answers = append(answers, sheetmodel.Answer{Value: "written", Label: p.cr.gateWords(labels) + ", as written"})
	}
	given := p.ask(question{
		finding: p.onCard(sheetmodel.Asks, sentence+".", c),
		key:     p.key(c.Key.Card, written, placed), ask: "Which gates did this judge watch in this run?",
		answers: append(answers, sheetmodel.Answer{Value: answerSetAside, Label: "others, or in another run: set its rows aside"}),
		hold:    c.rows, why: "placed at " + placed + ", header read as " + written,
	})
	switch given {
	case "written":
		c.gates = labels
	case answerSetAside:
		c.elsewhere = true
	}
}
