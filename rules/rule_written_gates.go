package rules

var ruleWrittenGates = Rule{
	Doc: Doc{
		Name: "written-gates", Basis: "own logic",
		Help: "The gates in a card's header must be those its judge was placed at; until that is settled no row of the card carries a call.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if !p.race.Rules.SmallCards && c.headerDiffers() && p.earlierPlace(c) == nil {
				p.askGates(c, "")
			}
		}
	},
}
