package rules

import (
	"fmt"
	"strings"

	"gatefold/sheetmodel"
)

var ruleArticle = Rule{
	Doc: Doc{
		Name: "article", Basis: "own logic",
		Help:     "A code that proposes needs an article or a local rule in the code book: without one the referee has nothing to post, and is told so, once for each code.",
		Settings: []string{"code_book"},
	},
	check: func(p *pass) {
		for _, c := range p.race.Codes.Codes {
			if cites(c.Basis) || !p.cr.bound {
				continue
			}
			rows := keep(p.cr.written(), func(w *row) bool { return w.coded && w.code.Code == c.Code && p.accusing(w) && !w.gone() })
			if len(rows) == 0 {
				continue
			}
			p.ask(question{
				finding: p.about(sheetmodel.Asks, fmt.Sprintf("Code %s (%s) is written in %s, but the code book names no article or local rule for it.", c.Code, c.Meaning, places(rows)), rows...),
				key:     p.key(c.Code), anyRow: true, ask: "On which article does it rest? Write it into the code book.",
				answers: []sheetmodel.Answer{{Value: "none", Label: "none is known: it goes to the referee without one"}},
			})
		}
	},
}

// cites reports whether a basis names something that can be looked up: an article, a local rule's number.
func cites(basis string) bool { return strings.ContainsAny(basis, "0123456789") }
