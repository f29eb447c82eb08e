package rules

var ruleOtherCourse = Rule{
	Doc: Doc{
		Name: "other-course", Basis: "own logic",
		Help: "A bib of another course carries no call on this one.",
	},
	check: func(p *pass) {
		for _, w := range p.cr.written() {
			if !p.cr.bound || !w.hasBib() || w.informed != "" {
				continue
			}
			here, elsewhere := p.onCourse(w)
			if len(here) > 0 || len(elsewhere) == 0 {
				continue
			}
			why := elsewhere[0].Number + " is on " + elsewhere[0].Course
			p.blockBib(w, capital(w.where())+": "+why+", this card is for "+p.cr.course+".", why)
		}
	},
}
