package rules

import "gatefold/sheetmodel"

var ruleStruckRow = Rule{
	Doc: Doc{
		Name: "struck-row", Basis: "common practice, no source",
		Help: "A row that its judge struck out is shown and never carries a call.",
	},
	check: func(p *pass) {
		for _, w := range p.cr.rows {
			if w.Struck {
				key := w.Ref.CardKey
				p.say(sheetmodel.Finding{
					Severity: sheetmodel.Informs, Card: &key, Rows: []sheetmodel.RowRef{w.Ref},
					Sentence: capital(w.where()) + " is struck out by its judge.",
				})
			}
		}
	},
}

// written returns the rows that count as written: not struck out and not set aside by a person.
func (cr *courseRun) written() []*row {
	return keep(cr.rows, func(w *row) bool { return !w.Struck && w.BibState != sheetmodel.BibSetAside })
}
