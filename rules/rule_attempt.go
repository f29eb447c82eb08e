package rules

import "gatefold/sheetmodel"

var ruleAttempt = Rule{
	Doc: Doc{
		Name: "attempt", Basis: "623.3",
		Help:     "A racer with a re-run has two attempts: a row whose re-run box is empty carries no call until a person says which attempt it is from, and a ticked box on a racer without a re-run is asked about.",
		Settings: []string{"re_runs"},
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			who := rows[0].racer
			listed := p.cr.reruns.holds(who)
			for _, w := range keep(rows, func(w *row) bool { return !w.gone() && w.coded && w.code.Effect != sheetmodel.EffectHindered }) {
				name := racerName(who.group, who.number)
				switch {
				case listed && !w.Rerun && p.accusing(w):
					p.assign(w, name)
				case w.Rerun && p.cr.reruns.known() && (!listed || p.given(p.tickedKey(w, name), subject{rows: []*row{w}}) == answerFirst):
					p.unlisted(w, name, listed)
				case w.Rerun:
					w.attempt = 2
				}
			}
		}
	},
}

const (
	answerFirst = "first"
	answerRerun = "re-run"
)

func attemptAnswers() []sheetmodel.Answer {
	return []sheetmodel.Answer{{Value: answerFirst, Label: "the first attempt"}, {Value: answerRerun, Label: "the re-run"}}
}

// assign asks which attempt an unmarked row of a racer with a re-run is from.
func (p *pass) assign(w *row, name string) {
	why := "not known which attempt of " + name + " it is from"
	q := question{
		finding: p.about(sheetmodel.Blocks, capital(w.where())+": "+name+" has a re-run, and the row's re-run box is empty: it may be from either attempt.", w),
		key:     p.key(w.Ref.Card, w.Ref.Row, name), ask: "From which attempt is this row?",
		answers: append(attemptAnswers(), offerSetAside), aside: []*row{w}, why: why,
	}
	if w.BibState != sheetmodel.BibTwoLooks {
		q.hold = []*row{w} // the bib may be misread
	}
	before := len(p.result.Incomplete)
	switch p.ask(q) {
	case "":
		p.result.Incomplete = p.result.Incomplete[:before] // the row's own standing says it
		if len(q.hold) == 0 {
			w.asides, w.open = append(w.asides, why), true
			p.result.Findings[len(p.result.Findings)-1].Severity = sheetmodel.Blocks
		}
	case answerRerun:
		w.attempt = 2
	}
}

// tickedKey is the key of the question about a ticked box. It isn't that about an empty one: the box may be rubbed out, or ticked, since.
func (p *pass) tickedKey(w *row, name string) string {
	return p.key(w.Ref.Card, w.Ref.Row, name+"/ticked")
}

// unlisted asks about a ticked re-run box of a racer without a re-run. What was answered holds if the list has the racer by now.
func (p *pass) unlisted(w *row, name string, listed bool) {
	sentence := capital(w.where()) + ": the re-run box is ticked, but the re-run list doesn't have " + name + "."
	if listed {
		sentence = capital(w.where()) + ": the re-run box is ticked, and the re-run list had " + name + " only after it was asked about."
	}
	given := p.askRow(w, name+"/ticked", sentence,
		"re-run box ticked, "+name+" is not in the re-run list", "From which attempt is this row?", attemptAnswers()...)
	if given == answerRerun {
		w.attempt = 2
	}
}
