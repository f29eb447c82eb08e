package rules

import "gatefold/sheetmodel"

// faultThenDNFPropose is the setting under which a fault is proposed though the racer did not finish.
const faultThenDNFPropose = "propose"

var ruleFaultThenDNF = Rule{
	Doc: Doc{
		Name: "fault-then-dnf", Basis: "common practice, no source",
		Help:     "A racer who missed a gate and did not finish is not proposed for disqualification, unless the race says so.",
		Settings: []string{"fault_then_dnf", "did_not_finish"},
	},
	check: func(p *pass) {
		if p.race.Rules.FaultThenDNF == faultThenDNFPropose {
			return
		}
		p.basis = p.race.Rules.FaultDNFBasis
		for _, rows := range p.cr.racerRows() {
			who := rows[0].racer
			faults := keep(rows, (*row).live, p.accusing)
			if len(faults) == 0 || !p.cr.dnf.holds(who) {
				continue
			}
			if p.cr.reruns.holds(who) {
				faults = p.askUnfinished(who, faults)
			}
			// What still waits for a look or an answer may be another racer's: nothing is said of it yet.
			sure := keep(faults, func(w *row) bool { return len(w.holds)+len(w.loose) == 0 && (w.lost() || w.ready()) })
			firm := keep(faults, (*row).firm)
			for _, tier := range tiers(faults) {
				for _, w := range tier {
					w.remark = "did not finish, fault" + atGate(p.cr.events(tier)[0].gate()) + ": no proposal"
				}
			}
			for _, w := range faults {
				w.informed = w.remark // only now: what is informed is live no more
			}
			if len(sure) == 0 {
				continue
			}
			lead := sure
			if len(firm) > 0 {
				lead = firm
			}
			p.say(p.about(sheetmodel.Informs, capital(racerName(who.group, who.number))+" did not finish and has a fault"+
				atGate(p.cr.events(lead)[0].gate())+" ("+places(sure)+"): no proposal.", sure...))
		}
	},
}

// askUnfinished asks which attempt of a racer with a re-run is meant by the did-not-finish list, which doesn't say:
// a fault of an attempt that was finished is not excused. It returns the faults of those that were not.
func (p *pass) askUnfinished(who racer, faults []*row) []*row {
	const both = "both"
	name := racerName(who.group, who.number)
	switch given := p.ask(question{
		finding: p.about(sheetmodel.Asks, capital(name)+" has a re-run and is on the did-not-finish list, which doesn't say of which attempt ("+places(faults)+").", faults...),
		key:     p.key(name, p.cr.gateKey(faults)), ask: "Which attempt did " + name + " not finish?",
		answers: []sheetmodel.Answer{
			{Value: answerFirst, Label: "the first attempt; the re-run was finished"},
			{Value: answerRerun, Label: "the re-run"},
			{Value: both, Label: "neither was finished"},
		},
		hold: faults, why: "not known which attempt " + name + " did not finish",
	}); given {
	case "":
		return nil
	case both:
		return faults
	default:
		attempt := map[string]int{answerFirst: 1, answerRerun: 2}[given]
		return keep(faults, func(w *row) bool { return w.attempt == attempt })
	}
}
