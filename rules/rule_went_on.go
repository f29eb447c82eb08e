package rules

import "gatefold/sheetmodel"

var ruleWentOn = Rule{
	Doc: Doc{
		Name: "went-on", Basis: "common practice, no source",
		Help: "A hindered racer leaves the course at once; a fault at or below the hindrance, in the same attempt, is held and asked about: the racer went on, the row is from the re-run, or a bib is wrong.",
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			hindered := hindrances(rows)
			if len(hindered) == 0 {
				continue
			}
			// What isn't settled may hold more rows than what is, never fewer.
			faults := keep(rows, (*row).live, p.accusing)
			for _, tier := range tiers(hindered) {
				faults = p.askWentOn(tier, faults)
			}
		}
	},
}

// askWentOn asks about the faults at or below a hindrance, and returns the others.
func (p *pass) askWentOn(hindered, rows []*row) []*row {
	if len(hindered) == 0 {
		return rows
	}
	place := p.cr.events(hindered)[0].gate()
	hit := func(w *row) bool { return w.attempt == 1 && !p.cr.above(w, place) }
	faults := keep(rows, hit)
	if len(faults) == 0 {
		return rows
	}
	name := racerName(rows[0].racer.group, rows[0].racer.number)
	p.ask(question{
		finding: p.about(sheetmodel.Asks, capital(name)+" was hindered"+atGate(place)+" ("+places(hindered)+") and has a fault"+
			atGate(p.cr.events(faults)[0].gate())+" ("+places(faults)+"): went on after the hindrance, a re-run, or a wrong bib?",
			append(faults, hindered...)...),
		key: p.key(name, orElse(place, "-"), p.cr.gateKey(faults)), ask: "What happened after the hindrance of " + name + "?",
		answers: []sheetmodel.Answer{
			{Value: "went-on", Label: name + " went on: the rows count"},
			{Value: answerRerun, Label: "the fault is from the re-run: the rows count"},
			{Value: answerSetAside, Label: "not this racer, or the jury lets it go: set the rows aside"},
		},
		hold: faults, why: name + " was hindered" + atGate(place) + ": went on, a re-run, or a wrong bib",
	})
	return keep(rows, func(w *row) bool { return !hit(w) })
}
