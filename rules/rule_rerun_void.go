package rules

import "gatefold/sheetmodel"

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
			if len(hindered) == 0 {
				p.askWhenHindered(who, faults)
				continue
			}
			place := p.cr.events(hindered)[0].gate()
			faults = keep(faults, func(w *row) bool { return p.cr.above(w, place) })
			if len(faults) == 0 {
				continue
			}
			name := racerName(who.group, who.number)
			sentence := capital(name) + " has a fault" + atGate(p.cr.events(faults)[0].gate()) + " (" + places(faults) +
				"), above the hindrance" + atGate(place) + " (" + places(hindered) + "): "
			if !granted && p.cr.reruns.known() {
				p.say(p.about(sheetmodel.Informs, sentence+"a re-run would perhaps be void.", append(faults, hindered...)...))
				continue
			}
			p.ask(question{
				finding: p.about(sheetmodel.Asks, sentence+"a re-run is perhaps void.", append(faults, hindered...)...),
				key:     p.key(name, p.cr.gateKey(faults)), ask: "Does the re-run of " + name + " count?", aside: faults,
				answers: []sheetmodel.Answer{
					{Value: "void", Label: "no: the fault came first, the proposal stays"},
					{Value: answerSetAside, Label: "yes: set the rows of the first attempt aside"},
				},
				why: "the re-run of " + name + " counts",
			})
		}
	},
}

// askWhenHindered asks about faults in a first attempt whose hindrance is on no card.
func (p *pass) askWhenHindered(who racer, faults []*row) {
	name := racerName(who.group, who.number)
	p.ask(question{
		finding: p.about(sheetmodel.Asks, capital(name)+" has a re-run and a fault in the first attempt ("+places(faults)+
			"), but the hindrance is on no card: if the fault came first, the re-run is void.", faults...),
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
