package rules

import "gatefold/sheetmodel"

var ruleSeveralFaults = Rule{
	Doc: Doc{
		Name: "several-faults", Basis: "own logic",
		Help: "Several faults of one racer in a run are one line of the draft; what does not lead it is further evidence.",
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			who := rows[0].racer
			lines := p.cr.lines[who]
			if len(lines) < 2 {
				continue
			}
			var rows []*row
			for _, l := range lines {
				rows = append(rows, l.rows()...)
			}
			sentence := capital(racerName(who.group, who.number)) + " has " + number(len(lines)) + " grounds for a proposal (" + places(rows) + "): one line of the draft"
			p.say(p.about(sheetmodel.Informs, sentence+atComma(lines[0].gate)+", the rest as further evidence.", rows...))
		}
	},
}

func atComma(gate string) string {
	if gate == "" {
		return ""
	}
	return ", gate " + gate
}
