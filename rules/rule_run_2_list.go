package rules

import "gatefold/sheetmodel"

var ruleRun2List = Rule{
	Doc: Doc{
		Name: "run-2-list", Basis: "627",
		Help:     "Who did not start or finish run 1 is not in run 2's list, unless the race lets all start; who is only proposed for disqualification is asked about, since the referee has not decided.",
		Settings: []string{"run2_after_dsq"},
	},
	check: func(p *pass) {
		if p.cr.run < 2 || p.race.Rules.Run2AfterDSQ == sheetmodel.Run2Yes || !p.cr.bound {
			return
		}
		p.basis = p.race.Rules.Run2Basis
		out := map[string][]bibs{}
		const dns, dnf = "did not start", "did not finish"
		for i := range p.race.Runs {
			if r := &p.race.Runs[i]; r.Number < p.cr.run {
				out[dns] = append(out[dns], listBibs(r.DidNotStart))
				out[dnf] = append(out[dnf], listBibs(r.DidNotEnd))
			}
		}
		for _, rows := range p.cr.racerRows() {
			who := rows[0].racer
			name := racerName(who.group, who.number)
			why := ""
			for _, what := range []string{dns, dnf} {
				for _, l := range out[what] {
					if l.holds(who) {
						why = name + " " + what + " in run 1 and is not in run 2's list"
					}
				}
			}
			for _, w := range keep(rows, func(w *row) bool { return !w.gone() }) {
				switch {
				case why != "":
					f := capital(w.where()) + ": " + why + "."
					p.blockBib(w, f, why)
				case p.proposedBefore(who):
					p.askRow(w, name, capital(w.where())+": "+name+" has a line in the draft of run 1; the referee has not decided.",
						name+" has a line in the draft of run 1", "Did "+name+" start in run 2?",
						sheetmodel.Answer{Value: answerCounts, Label: "yes: the row counts"})
				}
			}
		}
	},
}

// proposedBefore reports whether firm rows make a call on the racer in an earlier run, on any course.
func (p *pass) proposedBefore(who racer) bool {
	for _, cr := range p.courseRuns {
		if cr.run < p.cr.run && cr.run > 0 && cr.proposed[who] {
			return true
		}
	}
	return false
}
