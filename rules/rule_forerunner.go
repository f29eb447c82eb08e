package rules

import "gatefold/sheetmodel"

var ruleForerunner = Rule{
	Doc: Doc{
		Name: "forerunner", Basis: "common practice, no source",
		Help:     "A forerunner's row is information: never a call and never counted.",
		Settings: []string{"forerunners"},
	},
	check: func(p *pass) {
		for _, w := range p.cr.written() {
			bib := p.listed(w.Bib)
			if !p.cr.bound || !w.hasBib() || !p.forerunners.holds(racer{w.Group, w.Bib}) {
				continue
			}
			if len(p.starters[bib]) > 0 {
				p.askRow(w, bib, capital(w.where())+": "+bib+" is in the start list and among the forerunners.",
					bib+" is a racer and a forerunner", "Was this the racer?", sheetmodel.Answer{Value: answerCounts, Label: "yes, the racer"})
				continue
			}
			w.informed = "forerunner"
			p.say(p.about(sheetmodel.Informs, capital(w.where())+": "+bib+" is a forerunner, so the row is information only.", w))
		}
	},
}
