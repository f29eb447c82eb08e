package rules

import (
	"fmt"

	"gatefold/sheetmodel"
)

var ruleEveryRacer = Rule{
	Doc: Doc{
		Name: "every-racer", Basis: "common practice, no source",
		Help: "A card on which every racer gets a mark needs one for each racer who came by: whoever is in no list of those out and has neither mark nor row is named.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if !c.In || !p.cr.bound || c.Passed == nil {
				continue
			}
			marked := map[racer]bool{}
			for _, b := range c.Passed {
				marked[racer{b.Group, b.Number}] = true
			}
			for _, w := range c.rows {
				if w.named {
					marked[w.racer] = true
				}
			}
			var without []string
			for _, s := range p.race.Starters {
				who := racer{s.Group, s.Number}
				if s.Course != p.cr.course || c.Group != "" && s.Group != "" && c.Group != s.Group || marked[who] ||
					p.cr.dns.holds(who) && !p.cr.late.holds(who) || p.cr.dnf.holds(who) ||
					p.cr.mayStart.given == sheetmodel.ListGiven && !p.cr.mayStart.holds(who) {
					continue
				}
				without = append(without, racerName(s.Group, s.Number))
			}
			if len(without) == 0 {
				continue
			}
			sortLabels(without)
			words := list(without)
			switch open := keep(c.rows, func(w *row) bool { return !w.named && !w.gone() }); {
			case len(open) > 0:
				// Named, they would tell whoever types those rows what to expect.
				words = plural(len(without), "racer") + "; " + plural(len(open), "row") + " on it may be theirs"
			case len(without) > 5:
				words = fmt.Sprintf("%d racers, the first of them %s", len(without), without[0])
			}
			p.say(p.onCard(sheetmodel.Warns, fmt.Sprintf("%s has neither mark nor row for %s.", capital(c.where()), words), c))
		}
	},
}
