package rules

import (
	"fmt"
	"slices"

	"gatefold/sheetmodel"
)

var ruleYesNo = Rule{
	Doc: Doc{
		Name: "yes-no", Basis: "common practice, no source",
		Help: "On a card with a box for whether anything happened, the tick must agree with the rows that can propose something; a note or what this race doesn't count says nothing against no.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if !c.In || !p.cr.bound || c.Happened == nil {
				continue
			}
			faults := keep(c.rows, func(w *row) bool {
				if w.gone() || w.Blank {
					return false
				}
				if !w.coded {
					return true
				}
				switch w.code.Effect {
				case sheetmodel.EffectPropose:
					return true
				case sheetmodel.EffectOvertaken:
					return p.weighs(w)
				case sheetmodel.EffectLostTwo, sheetmodel.EffectLostSki:
					return p.lostSkiFrom() == 1 || p.lostSkiFrom() == 2 && w.code.Effect == sheetmodel.EffectLostTwo
				default:
					return false
				}
			})
			var sentence string
			switch {
			case *c.Happened && c.standing() == 0 && !slices.ContainsFunc(c.rows, func(w *row) bool { return w.strike == strikeOpen }):
				sentence = capital(c.where()) + ` says "yes, something happened", but has no row that stands.`
			case !*c.Happened && len(faults) > 0:
				sentence = fmt.Sprintf(`%s says "no, nothing happened", but has %s that can propose something.`, capital(c.where()), plural(len(faults), "row"))
			default:
				continue
			}
			p.ask(question{
				finding: p.onCard(sheetmodel.Asks, sentence, c), key: p.key(c.Key.Card, *c.Happened, rowsKey(faults)), ask: "What does the judge say?",
				answers: []sheetmodel.Answer{{Value: "rows", Label: "the rows on the card are all there are, and stand"}},
			})
		}
	},
}
