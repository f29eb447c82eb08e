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
			if len(lines) < 2 || len(p.cr.decided[who]) > 0 {
				continue // what the jury has decided on is no ground any more: its own rule says what is left
			}
			var firm, open, all []*row
			grounds := 0
			for _, l := range lines {
				all = append(all, l.rows()...)
				if l.firm() {
					grounds++
					firm = append(firm, l.rows()...)
				} else {
					open = append(open, l.rows()...)
				}
			}
			name := capital(racerName(who.group, who.number))
			if grounds > 0 && grounds < len(lines) {
				sentence := name + " has " + grounded(grounds) + " (" + places(firm) + ") and perhaps " + number(len(lines)-grounds) +
					" more (" + places(open) + "): one line of the draft"
				p.say(p.about(sheetmodel.Informs, sentence+atComma(lines[0].gate)+", which may change when the rest is settled.", all...))
				continue
			}
			has := " has "
			if grounds == 0 {
				has = " may have "
			}
			sentence := name + has + grounded(len(lines)) + " (" + places(all) + "): one line of the draft"
			p.say(p.about(sheetmodel.Informs, sentence+atComma(lines[0].gate)+", the rest as further evidence.", all...))
		}
	},
}

func grounded(n int) string {
	if n == 1 {
		return "one ground for a proposal"
	}
	return number(n) + " grounds for a proposal"
}

func atComma(gate string) string {
	if gate == "" {
		return ""
	}
	return ", gate " + gate
}
