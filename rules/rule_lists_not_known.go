package rules

import "gatefold/sheetmodel"

var ruleListsNotKnown = Rule{
	Doc: Doc{
		Name: "lists-not-known", Basis: "common practice, no source",
		Help:     "The draft is not complete until the did-not-start, did-not-finish and re-run lists of the run are handed in, even if only as none.",
		Settings: []string{"did_not_start", "did_not_finish", "re_runs"},
	},
	check: func(p *pass) {
		if !p.cr.bound {
			return
		}
		var open []string
		for _, l := range []struct {
			name string
			list bibs
		}{{"did-not-start", p.cr.dns}, {"did-not-finish", p.cr.dnf}, {"re-run", p.cr.reruns}} {
			if !l.list.known() {
				open = append(open, l.name)
				p.gap("The " + l.name + " list is not known.")
			}
		}
		if len(open) > 0 {
			lists, are, them := "list", "is", "it"
			if len(open) > 1 {
				lists, are, them = "lists", "are", "them"
			}
			p.say(sheetmodel.Finding{
				Severity: sheetmodel.Warns,
				Sentence: "The " + list(open) + " " + lists + " of this run " + are + " not known: hand " + them + " in, or say none.",
			})
		}
	},
}
