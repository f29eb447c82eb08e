package rules

import (
	"fmt"

	"gatefold/sheetmodel"
)

var ruleStrip = Rule{
	Doc: Doc{
		Name: "strip", Basis: "common practice, no source",
		Help: "The bibs under a drawing and the rows that name its panel must be as many: one bib more is a row that is missing, a panel that a row doesn't name, or a bib left there after its row was struck out. Which bibs they are is not told.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if !c.In || !p.cr.bound {
				continue
			}
			for _, s := range c.Strips {
				p.strip(c, s)
			}
		}
	},
}

func (p *pass) strip(c *card, s Strip) {
	named := keep(c.rows, func(w *row) bool { return w.Panel == s.Panel && w.Panel != "" && !w.Blank })
	struck := len(keep(named, func(w *row) bool { return w.Struck }))
	standing := keep(named, func(w *row) bool { return !w.Struck })
	unsure := len(keep(c.rows, func(w *row) bool { return !w.PanelSure }))
	if gates := gatesOf(p.cr, keep(standing, func(w *row) bool { return w.PanelSure && len(w.gates) > 0 })); len(gates) > 1 {
		f := p.onCard(sheetmodel.Warns, fmt.Sprintf("%s: the drawing in panel %s serves rows at %s; one drawing shows one gate.", capital(c.where()), s.Panel, p.cr.gateWords(gates)), c)
		f.Rows = refs(standing)
		p.say(f)
	} else if len(standing) > 1 {
		f := p.onCard(sheetmodel.Informs, fmt.Sprintf("%s: the drawing in panel %s serves %s.", capital(c.where()), s.Panel, plural(len(standing), "row")), c)
		f.Rows = refs(standing)
		p.say(f)
	}
	if s.Bibs <= len(standing) || unsure > 0 {
		return // a bib missing there is no fault of the row, and a panel not settled may be this one
	}
	sentence := fmt.Sprintf("%s: panel %s holds %s, and %s %s it", capital(c.where()), s.Panel, plural(s.Bibs, "bib"), orElse(map[bool]string{true: "no row"}[len(standing) == 0], plural(len(standing), "row")), verb(len(standing), "names", "name"))
	if len(standing) == 0 {
		sentence = fmt.Sprintf("%s: panel %s holds %s, and no row names it", capital(c.where()), s.Panel, plural(s.Bibs, "bib"))
	}
	switch {
	case struck > 0:
		sentence += fmt.Sprintf(", beside %s that is struck out: a bib left there, or a row that stands?", plural(struck, "row"))
	default:
		sentence += ": a row may be missing, or doesn't name its panel."
	}
	p.ask(p.unlessDone(question{
		finding: p.onCard(sheetmodel.Asks, sentence, c), key: p.key(c.Key.Card, s.Panel, s.Bibs, rowsKey(standing)),
		ask: "Is every racer under this drawing in a row?",
		answers: []sheetmodel.Answer{
			{Value: "all", Label: "yes, asked the judge: the rows on the card are all"},
			{Value: answerWritten, Label: "no: it is on the card now, photograph it again"},
		},
		drawings: true,
	}, answerWritten, "not-written", notWritten))
}
