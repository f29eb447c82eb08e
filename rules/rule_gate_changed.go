package rules

import (
	"slices"

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
				p.askRenumbered(g)
			}
		}
	},
}

func (p *pass) askRenumbered(g sheetmodel.GateChange) {
	for _, w := range p.cr.written() {
		if !slices.Contains(w.gates, g.Gate) && !slices.Contains(w.gates, g.Was) {
			continue
		}
		p.askRow(w, w.Gate+"@"+g.At, capital(w.where())+" names "+p.cr.gateWords(w.gates)+", and gate "+g.Was+" became gate "+g.Gate+" at "+g.At+".",
			"gate "+g.Was+" became gate "+g.Gate+" during the run", "Is the gate as it was numbered at the time?",
			sheetmodel.Answer{Value: answerCounts, Label: "yes, asked the judge: the row counts as written"})
	}
}
