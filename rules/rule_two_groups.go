package rules

import "gatefold/sheetmodel"

var ruleTwoGroups = Rule{
	Doc: Doc{
		Name: "two-groups", Basis: "common practice, no source",
		Help: "Where one number is worn in two groups of a course, the row, its card's ring or a person must say which; start order and time never do.",
	},
	check: func(p *pass) {
		for _, w := range p.cr.written() {
			if !p.cr.bound || !w.hasBib() || w.informed != "" {
				continue
			}
			here, _ := p.onCourse(w)
			switch {
			case len(here) == 0:
			case len(here) == 1:
				w.name(here[0])
				p.checkRing(w, here[0])
			default:
				p.pickGroup(w, here)
			}
		}
	},
}

// name says which starter the row's bib is.
func (w *row) name(s sheetmodel.Starter) {
	w.racer, w.named = racer{s.Group, s.Number}, true
}

// checkRing asks if the card's ringed group is not the one the bib belongs to.
func (p *pass) checkRing(w *row, s sheetmodel.Starter) {
	if w.card.Group == "" || s.Group == "" || w.card.Group == s.Group || w.Group == s.Group {
		return
	}
	p.askRow(w, s.Group+" "+s.Number, capital(w.where())+": "+s.Number+" is in group "+s.Group+", but the card's ring says "+w.card.Group+".",
		s.Number+" is in group "+s.Group+", the card says "+w.card.Group,
		"Did the judge see "+s.Group+" "+s.Number+"?", sheetmodel.Answer{Value: answerCounts, Label: "yes: the row counts"})
}

func (p *pass) pickGroup(w *row, here []sheetmodel.Starter) {
	var groups []string
	var answers []sheetmodel.Answer
	for _, s := range here {
		if w.Group == "" && w.card.Group == s.Group && s.Group != "" {
			w.name(s) // the judge ringed it
			return
		}
		groups = append(groups, s.Group)
		answers = append(answers, sheetmodel.Answer{Value: s.Group, Label: s.Group + " " + s.Number})
	}
	given := p.askRow(w, here[0].Number, capital(w.where())+": "+here[0].Number+" is worn in the groups "+list(groups)+"; the row doesn't say which.",
		here[0].Number+" is worn in two groups", "Which racer was it?", answers...)
	for _, s := range here {
		if given == s.Group && given != "" {
			w.name(s)
		}
	}
}
