package rules

import "gatefold/sheetmodel"

var ruleSeveralFaults = Rule{
	Doc: Doc{
		Name: "several-faults", Basis: "own logic",
		Help: "Several faults of one racer in a run are one line of the draft; the others are further evidence.",
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			who := rows[0].racer
			lines := p.cr.lines[who]
			if len(lines) < 2 {
				continue
			}
			var events []*row
			for _, l := range lines {
				for _, e := range l.events {
					events = append(events, e.rows...)
				}
			}
			sentence := capital(racerName(who.group, who.number)) + " has " + number(len(lines)) + " faults (" + places(events) + "): one line of the draft"
			p.say(p.about(sheetmodel.Informs, sentence+atComma(lines[0].gate)+", the others as further evidence.", events...))
		}
	},
}

func atComma(gate string) string {
	if gate == "" {
		return ""
	}
	return ", gate " + gate
}
