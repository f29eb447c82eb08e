package rules

import (
	"slices"

	"gatefold/sheetmodel"
)

var ruleRun2List = Rule{
	Doc: Doc{
		Name: "run-2-list", Basis: "627",
		Help:     "Run 2's own list says who may start; without one, who did not start or finish run 1 may not, unless the race lets all start or lets them run for practice. Who is only proposed for disqualification is asked about, since the referee has not decided. The order of the list is never used.",
		Settings: []string{"run2_after_dsq", "may_start", "conditional_starts"},
	},
	check: func(p *pass) {
		if p.cr.run < 2 || !p.cr.bound {
			return
		}
		p.basis = p.race.Rules.Run2Basis
		for _, rows := range p.cr.racerRows() {
			who := rows[0].racer
			why := p.notInRun2(who)
			for _, w := range keep(rows, func(w *row) bool { return !w.gone() }) {
				p.inRun2(w, why)
			}
		}
	},
}

const (
	didNotStart  = "did not start"
	didNotFinish = "did not finish"
)

// notInRun2 says why a racer may not start this run, empty if nothing says so.
func (p *pass) notInRun2(who racer) string {
	name := racerName(who.group, who.number)
	if p.race.Rules.Run2AfterDSQ != sheetmodel.Run2Yes && slices.ContainsFunc(p.jury, func(j JuryLine) bool {
		return j.Decided && !j.Overruled && !j.TakenBack && j.Run < p.cr.run && j.Group == who.group && j.Bib == who.number
	}) {
		return name + " was disqualified in run 1, upheld by the jury"
	}
	if p.cr.conditional.holds(who) {
		return ""
	}
	if p.cr.mayStart.given == sheetmodel.ListGiven {
		if p.cr.mayStart.holds(who) {
			return ""
		}
		return name + " is not in run 2's list"
	}
	if p.race.Rules.Run2AfterDSQ == sheetmodel.Run2Yes {
		return ""
	}
	why := ""
	for i := range p.race.Runs {
		r := &p.race.Runs[i]
		if r.Number >= p.cr.run {
			continue
		}
		if r.DidNotStart.Holds(who.group, who.number) && !r.LateStarts.Holds(who.group, who.number) {
			why = name + " " + didNotStart + " in run 1 and is not in run 2's list"
		}
		if r.DidNotEnd.Holds(who.group, who.number) {
			why = name + " " + didNotFinish + " in run 1 and is not in run 2's list"
		}
	}
	return why
}

// inRun2 says of a row what the racer's part in run 2 makes of it.
func (p *pass) inRun2(w *row, why string) {
	name := racerName(w.racer.group, w.racer.number)
	practice := p.race.Rules.Run2AfterDSQ == sheetmodel.Run2Practice && p.cr.mayStart.given != sheetmodel.ListGiven
	switch {
	case p.cr.conditional.holds(w.racer) && why == "":
		p.say(p.about(sheetmodel.Informs, capital(w.where())+": "+name+" starts conditionally while a protest is open; the row counts if the jury lets the start stand.", w))
	case why != "" && practice:
		if w.BibState != sheetmodel.BibTwoLooks && p.weighs(w) {
			p.blockBib(w, capital(w.where())+": "+name+" is out in run 1 and runs for practice.", name+" runs for practice")
			return
		}
		w.informed = "is out in run 1 and runs for practice: nothing of it counts"
		p.say(p.about(sheetmodel.Informs, capital(w.where())+": "+name+" is out in run 1 and runs for practice; the row is information only.", w))
	case why != "":
		p.blockBib(w, capital(w.where())+": "+why+".", why)
	case p.cr.mayStart.given != sheetmodel.ListGiven && p.race.Rules.Run2AfterDSQ != sheetmodel.Run2Yes && p.proposedBefore(w.racer):
		counts := sheetmodel.Answer{Value: answerCounts, Label: "yes: the row counts"}
		if practice {
			counts.Label = "the referee did not disqualify: the row counts"
		}
		p.askRow(w, name, capital(w.where())+": "+name+" has a line in the draft of run 1; the referee has not decided.",
			name+" has a line in the draft of run 1", "Did "+name+" start in run 2?", counts)
	}
}

// proposedBefore reports whether firm rows make a call on the racer in an earlier run, on any course, that
// the jury has not overruled.
func (p *pass) proposedBefore(who racer) bool {
	for _, cr := range p.courseRuns {
		if cr.run < p.cr.run && cr.run > 0 && cr.proposed[who] {
			return true
		}
	}
	return false
}
