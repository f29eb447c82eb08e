package rules

import "gatefold/sheetmodel"

var ruleJudgeStays = Rule{
	Doc: Doc{
		Name: "judge-stays", Basis: "666",
		Help: "A judge who noted a fault or a hindrance stays until protests are settled, set-aside rows included; so does one whose card isn't in. The TD releases them, not the program.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if !p.cr.bound {
				continue
			}
			rows := keep(c.rows, p.keepsJudge)
			switch {
			case len(rows) > 0:
				key := c.Key
				f := sheetmodel.Finding{Severity: sheetmodel.Informs, Card: &key, Sentence: "The judge of " + c.where() + " stays until the TD releases them: " + plural(len(rows), "row") + " may be asked about."}
				for _, w := range rows {
					f.Rows = append(f.Rows, w.Ref)
				}
				p.say(f)
			case !c.In && c.GapReason == "":
				p.say(p.onCard(sheetmodel.Informs, "The judge of "+c.where()+" stays until the card is in.", c))
			}
		}
	},
}

// keepsJudge reports whether a row may still need its judge.
func (p *pass) keepsJudge(w *row) bool {
	if w.Struck {
		return false
	}
	if w.coded && (w.code.Effect == sheetmodel.EffectPropose || w.code.Effect == sheetmodel.EffectHindered) {
		return true
	}
	return w.stands != sheetmodel.StandsInform
}
