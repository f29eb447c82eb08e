package rules

import (
	"slices"

	"gatefold/sheetmodel"
)

var ruleSwap = Rule{
	Doc: Doc{
		Name: "swap", Basis: "common practice, no source",
		Help: "Where the bib would be one of the judge's gates, the gate is not, and the gate's number is a racer of the course, the two may be swapped; nothing is corrected.",
	},
	check: func(p *pass) {
		for _, w := range p.cr.written() {
			// A swap that fits both columns can't be seen, so only a gate outside the section is looked at.
			if !p.cr.bound || !w.hasBib() || len(w.gates) != 1 || len(p.cr.outside(w)) == 0 {
				continue
			}
			if !slices.Contains(w.card.gates, w.Bib) || !p.startsHere(w.gates[0]) {
				continue
			}
			p.say(p.about(sheetmodel.Asks, capital(w.where())+": bib "+w.Bib+" and gate "+w.gates[0]+
				" are perhaps swapped: "+w.Bib+" is one of its judge's gates, and a racer wears "+w.gates[0]+". Ask the judge; nothing is changed.", w))
		}
	},
}

// startsHere reports whether a racer of this course wears the number.
func (p *pass) startsHere(number string) bool {
	return slices.ContainsFunc(p.starters[p.listed(number)], func(s sheetmodel.Starter) bool {
		return s.Course == "" || s.Course == p.cr.course
	})
}
