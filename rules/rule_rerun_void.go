package rules

import (
	"slices"

	"gatefold/sheetmodel"
)

var ruleRerunVoid = Rule{
	Doc: Doc{
		Name: "rerun-void", Basis: "623.3.2",
		Help:     "A re-run is void if the racer was out before the hindrance: a fault above it, in the first attempt, is pointed out.",
		Settings: []string{"re_runs"},
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			who := rows[0].racer
			hindered := hindrances(rows)
			faults := keep(rows, (*row).live, p.accusing, func(w *row) bool {
				return w.attempt == 1 && (!w.lost() || p.lostSkiFrom() == 1)
			})
			granted := p.cr.reruns.holds(who)
			if len(faults) == 0 || len(hindered) == 0 && !granted {
				continue
			}
			settled := keep(hindered, (*row).firm)
			if granted && len(settled) == 0 {
				// A hindrance that isn't settled doesn't free what the re-run list holds.
				for _, w := range hindered {
					w.decides = true
				}
				for _, alike := range apart(faults) {
					p.askWhenHindered(who, alike)
				}
				continue
			}
			if len(settled) > 0 {
				hindered = settled
			}
			place := p.cr.events(hindered)[0].gate()
			faults = keep(faults, func(w *row) bool { return p.cr.above(w, place) })
			for _, alike := range apart(faults) {
				p.askVoid(who, alike, hindered, place, granted)
			}
		}
	},
}

// apart splits faults into those to ask about together, tier by tier: what was answered about settled
// rows stays answered when another row comes beside them. A row at a gate that is asked about already
// goes with that question.
func apart(faults []*row) [][]*row {
	var groups [][]*row
	for _, tier := range tiers(faults) {
		before := len(groups)
		for _, w := range tier {
			at := slices.IndexFunc(groups, func(g []*row) bool {
				return slices.ContainsFunc(g, func(other *row) bool { return other.gate() == w.gate() })
			})
			switch {
			case at >= 0:
				groups[at] = append(groups[at], w)
			case len(groups) == before:
				groups = append(groups, []*row{w})
			default:
				groups[before] = append(groups[before], w)
			}
		}
	}
	return groups
}

// askVoid asks about faults in a first attempt, above the hindrance: they may make the re-run void.
func (p *pass) askVoid(who racer, faults, hindered []*row, place string, granted bool) {
	name := racerName(who.group, who.number)
	both := slices.Concat(faults, hindered)
	sentence := capital(name) + " has " + verb(len(p.cr.events(faults)), "a fault", "faults") + " at " + p.cr.gateWords(gatesOf(p.cr, faults)) + " (" + places(faults) +
		"), above the hindrance" + atGate(place) + " (" + places(hindered) + "): "
	if !granted && p.cr.reruns.known() {
		p.say(p.about(sheetmodel.Informs, sentence+"a re-run would perhaps be void.", both...))
		return
	}
	p.ask(question{
		finding: p.about(sheetmodel.Asks, sentence+"a re-run is perhaps void.", both...),
		key:     p.key(name, p.cr.gateKey(faults)), ask: "Does the re-run of " + name + " count?", aside: faults,
		answers: []sheetmodel.Answer{
			{Value: "void", Label: "no: the fault came first, the proposal stays"},
			{Value: answerSetAside, Label: "yes: set the rows of the first attempt aside"},
		},
		why: "the re-run of " + name + " counts",
	})
}

// askWhenHindered asks about faults in a first attempt whose hindrance is on no card, or not surely.
func (p *pass) askWhenHindered(who racer, faults []*row) {
	name := racerName(who.group, who.number)
	p.ask(question{
		finding: p.about(sheetmodel.Asks, capital(name)+" has a re-run and a fault in the first attempt ("+places(faults)+
			"), but no card tells of the hindrance with two looks at its bib: if the fault came first, the re-run is void.", faults...),
		key: p.key(name, p.cr.gateKey(faults)), ask: "Which came first?",
		answers: []sheetmodel.Answer{
			{Value: "void", Label: "the fault: the rows count"},
			{Value: answerSetAside, Label: "the hindrance: set the rows of the first attempt aside"},
		},
		hold: faults, why: "not known whether the fault of " + name + " came before the hindrance",
	})
}

// above reports whether the whole row lies above a gate; without gates nothing does.
func (cr *courseRun) above(w *row, gate string) bool {
	return gate != "" && len(w.gates) > 0 && cr.compareGates(w.gates[len(w.gates)-1], gate) < 0
}
