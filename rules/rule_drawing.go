package rules

import (
	"fmt"

	"gatefold/sheetmodel"
)

var ruleDrawing = Rule{
	Doc: Doc{
		Name: "drawing", Basis: "661.2",
		Help:     "A fault without a drawing is asked about, unless the card has no room for one; where the race demands a drawing it carries no call.",
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
			if w.Panel != "" && w.Drawn && !p.noPath(w, demanded) {
				continue
			}
			why := "it names no drawing panel"
			switch {
			case w.card.NoDrawings && !demanded:
				continue // nobody could draw it there
			case w.card.NoDrawings:
				why = "its card has no room for a drawing"
			case w.Panel != "" && w.Drawn && !demanded:
				continue // its answer is on record
			case w.Panel != "" && w.Drawn:
				why = "its panel " + w.Panel + " holds no path"
			case w.Panel != "":
				why = "its panel " + w.Panel + " holds no drawing"
			}
			sentence := capital(w.where()) + ": a fault, but " + why + "."
			if demanded {
				p.block(w, orElse(w.Panel, "none"), sentence+" This race demands a drawing.", why)
				continue
			}
			p.ask(question{
				finding: p.about(sheetmodel.Asks, sentence+" Ask its judge to draw it.", w), key: p.key(w.Ref.Card, w.Ref.Row, orElse(w.Panel, "none")),
				ask:     "Is there a drawing? Once its judge has added it or named its panel, photograph the card again.",
				answers: []sheetmodel.Answer{{Value: "none", Label: "no: it goes to the referee without one"}}, drawings: true,
			})
		}
	},
}

// noPath asks whether a panel that seems to hold nothing but the gates holds a path, and reports whether a person
// said that it doesn't. Judges sketch the gates beforehand, so ink alone is no drawing. While it is asked, the call
// waits where the race demands a drawing, and only there.
func (p *pass) noPath(w *row, demanded bool) bool {
	if !w.PathDoubt {
		return false
	}
	q := question{
		finding: p.about(sheetmodel.Asks, capital(w.where())+": a fault, and in its panel "+w.Panel+" nothing but the gates is seen. Ask its judge for the path.", w),
		key:     PathKey(w.Ref, w.Panel),
		ask:     "Does the drawing show the racer's path?",
		answers: []sheetmodel.Answer{{Value: "path", Label: "yes, there is a path"}, {Value: "none", Label: "no: only the gates are drawn"}}, drawings: true,
	}
	if demanded {
		q.hold, q.why = []*row{w}, "whether its drawing shows a path is asked"
	}
	return p.ask(q) == "none"
}

// PathKey is the key of the question whether a row's drawing shows the racer's path.
func PathKey(ref sheetmodel.RowRef, panel string) string {
	return fmt.Sprintf("drawing/%d/%s/%d/%d/path/%s", ref.Run, ref.Course, ref.Card, ref.Row, panel)
}
