package rules

import (
	"fmt"

	"gatefold/sheetmodel"
)

var ruleOtherBib = Rule{
	Doc: Doc{
		Name: "other-bib", Basis: "common practice, no source",
		Help:     "Where two racers met, overtaking or in a hindrance, the other bib is a reference that a person enters from the remark: it is never a call without a row of its own.",
		Settings: []string{"overtaken_penalised", "overtaken_basis"},
	},
	check: func(p *pass) {
		for _, w := range p.cr.written() {
			if !w.coded || w.code.Effect != sheetmodel.EffectOvertaken && w.code.Effect != sheetmodel.EffectHindered {
				continue
			}
			key := OtherBibKey(w.Ref)
			other := p.given(key, subject{cards: []*card{w.card}})
			if was, gone := p.result.Overtaken[key]; gone {
				p.say(p.about(sheetmodel.Informs, fmt.Sprintf("%s was said to name another racer, %s, but since then %s: look at its remark, and enter the bib again.", capital(w.where()), was.Value, was.Why), w))
			}
			if other == "" {
				continue
			}
			sentence := fmt.Sprintf("%s names another racer, %s: a reference, no call without a row of its own.", capital(w.where()), other)
			if len(p.starters[p.listed(other)]) == 0 {
				sentence = fmt.Sprintf("%s names another racer, %s, who is in no list: a reference, no call.", capital(w.where()), other)
			}
			p.say(p.about(sheetmodel.Informs, sentence, w))
		}
	},
}

// OtherBibKey is under which answer a person keeps the other bib of a row's remark.
func OtherBibKey(ref sheetmodel.RowRef) string {
	return fmt.Sprintf("other-bib/%d/%s/%d/%d", ref.Run, ref.Course, ref.Card, ref.Row)
}
