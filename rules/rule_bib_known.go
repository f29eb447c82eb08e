package rules

import "gatefold/sheetmodel"

var ruleBibKnown = Rule{
	Doc: Doc{
		Name: "bib-known", Basis: "own logic",
		Help: "A bib that is in no list carries no call; it is never completed or corrected from the list.",
	},
	check: func(p *pass) {
		for _, w := range p.cr.written() {
			if !p.cr.bound || !w.hasBib() || w.informed != "" {
				continue
			}
			switch {
			case w.Bib == "":
				p.noBib(w)
			case len(p.race.Starters) == 0:
				p.say(p.about(sheetmodel.Asks, capital(w.where())+": there is no start list to look "+w.Bib+" up in.", w))
				w.holds = append(w.holds, "there is no start list")
			case len(p.starters[p.listed(w.Bib)]) == 0:
				p.blockBib(w, capital(w.where())+": "+w.Bib+" is in no list.", w.Bib+" is in no list")
			}
		}
	},
}

// noBib blocks a row without a bib; a person may say that it was a forerunner who wore none.
func (p *pass) noBib(w *row) {
	const forerunner = "forerunner"
	if p.given(p.key(w.Ref.Card, w.Ref.Row, "none"), subject{rows: []*row{w}}) == forerunner {
		w.informed = "a forerunner without a bib"
		p.say(p.about(sheetmodel.Informs, capital(w.where())+" has no bib. Answered: a forerunner without one.", w))
		return
	}
	p.block(w, "none", capital(w.where())+" has no bib.", "it has no bib",
		sheetmodel.Answer{Value: forerunner, Label: "a forerunner without a bib: information only"})
}

// onCourse returns the starters of a row's bib on this course and elsewhere. A group that a person
// settled for the row counts before the course.
func (p *pass) onCourse(w *row) (here, elsewhere []sheetmodel.Starter) {
	settled := false
	all := p.starters[p.listed(w.Bib)]
	for _, s := range all {
		settled = settled || w.Group != "" && s.Group == w.Group
	}
	for _, s := range all {
		switch {
		case settled && s.Group != w.Group:
		case s.Course == "" || s.Course == p.cr.course:
			here = append(here, s)
		default:
			elsewhere = append(elsewhere, s)
		}
	}
	return here, elsewhere
}
