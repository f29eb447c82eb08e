package rules

import "gatefold/sheetmodel"

var ruleDrawing = Rule{
	Doc: Doc{
		Name: "drawing", Basis: "661.2",
		Help:     "A fault without a drawing is asked about; where the race demands a drawing it carries no call.",
		Settings: []string{"drawing_demanded", "code_book"},
	},
	check: func(p *pass) {
		if p.race.Rules.DrawingDemanded {
			p.basis = p.race.Rules.DrawingBasis
		}
		for _, w := range p.cr.written() {
			if !p.cr.bound || !w.coded || !w.code.Drawing || w.code.Effect != sheetmodel.EffectPropose || w.informed != "" || w.gone() {
				continue
			}
			demanded := p.race.Rules.DrawingDemanded
			if !w.PanelSure {
				if demanded {
					w.holds = append(w.holds, "its drawing panel is not settled")
				}
				continue
			}
			if w.Panel != "" && w.Drawn {
				continue
			}
			why := "it names no drawing panel"
			if w.Panel != "" {
				why = "its panel " + w.Panel + " holds no drawing"
			}
			sentence := capital(w.where()) + ": a fault, but " + why + "."
			if demanded {
				p.block(w, orElse(w.Panel, "none"), sentence+" This race demands a drawing.", why)
				continue
			}
			p.ask(question{
				finding: p.about(sheetmodel.Asks, sentence+" Ask its judge to draw it.", w), key: p.key(w.Ref.Card, w.Ref.Row, orElse(w.Panel, "none")),
				ask:     "Is there a drawing?",
				answers: []sheetmodel.Answer{{Value: "none", Label: "no: it goes to the referee without one"}},
			})
		}
	},
}
