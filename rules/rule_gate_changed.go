package rules

import (
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

var ruleGateChanged = Rule{
	Doc: Doc{
		Name: "gate-changed", Basis: "own logic",
		Help:     "Where the jury changed gates during the run, each change is named; a row on a gate that was renumbered is held until a person says which gate is meant. When a row was written never decides it.",
		Settings: []string{"gate_changes"},
	},
	check: func(p *pass) {
		for _, g := range p.cr.changes {
			switch g.What {
			case sheetmodel.GateAdded:
				p.say(sheetmodel.Finding{Severity: sheetmodel.Informs, Gate: g.Gate, Sentence: "Gate " + g.Gate + " was added at " + g.At + ": racers before had no such gate."})
			case sheetmodel.GateRemoved:
				p.say(sheetmodel.Finding{Severity: sheetmodel.Informs, Gate: g.Gate, Sentence: "Gate " + g.Gate + " was removed at " + g.At + ": racers after had no such gate."})
			case sheetmodel.GateRenumbered:
				p.say(sheetmodel.Finding{Severity: sheetmodel.Informs, Gate: g.Gate, Sentence: "Gate " + g.Was + " became gate " + g.Gate + " at " + g.At + ": both numbers may mean it."})
			}
		}
		p.askRenumbered()
	},
}

// askRenumbered asks once about each row on a renumbered gate, whatever number of changes it may be about: where
// gates below an added one move up by one, each label is the new number of one gate and the old one of the next.
func (p *pass) askRenumbered() {
	for _, w := range p.cr.written() {
		var became, at []string
		for _, g := range p.cr.changes {
			if g.What == sheetmodel.GateRenumbered && (slices.Contains(w.gates, g.Gate) || slices.Contains(w.gates, g.Was)) {
				became = append(became, "gate "+g.Was+" became gate "+g.Gate+" at "+g.At)
				at = append(at, g.At)
			}
		}
		if len(became) == 0 {
			continue
		}
		p.askRow(w, w.Gate+"@"+strings.Join(unique(at), ","), capital(w.where())+" names "+p.cr.gateWords(w.gates)+", and "+list(became)+".",
			list(became), "Is the gate as it was numbered at the time?",
			sheetmodel.Answer{Value: answerCounts, Label: "yes, asked the judge: the row counts as written"})
	}
}
