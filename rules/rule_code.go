package rules

import "gatefold/sheetmodel"

var ruleCode = Rule{
	Doc: Doc{
		Name: "code", Basis: "661.2",
		Help:     "What happened must be one of the code book's codes; a row that doesn't say is asked about, and a code that the book doesn't have proposes nothing.",
		Settings: []string{"code_book"},
	},
	check: func(p *pass) {
		for _, w := range p.cr.written() {
			switch {
			case !w.CodeSure || w.coded:
			case w.Code == "":
				f := p.about(sheetmodel.Asks, capital(w.where())+" does not say what happened: ask its judge.", w)
				p.ask(question{
					finding: f, key: p.key(w.Ref.Card, w.Ref.Row, "none"), ask: "Can nobody say what happened here?",
					answers: []sheetmodel.Answer{offerSetAside}, hold: []*row{w}, why: "it does not say what happened",
				})
			default:
				p.block(w, w.Code, capital(w.where())+`: "`+w.Code+`" is not in the code book.`, `"`+w.Code+`" is not in the code book`)
			}
		}
	},
}
