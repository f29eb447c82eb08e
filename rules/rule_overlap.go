package rules

import (
	"fmt"
	"strings"

	"gatefold/sheetmodel"
)

var ruleOverlap = Rule{
	Doc: Doc{
		Name: "overlap", Basis: "common practice, no source",
		Help: "Gates in two judges' sections are mentioned once, not for every row.",
	},
	check: func(p *pass) {
		shared := map[string][]string{}
		var sets []string
		cards := map[string][]*card{}
		for _, g := range p.cr.gates {
			watching := p.cr.watch[g]
			if len(watching) < 2 || onePlace(watching) {
				continue
			}
			var set strings.Builder
			for _, c := range watching {
				fmt.Fprintf(&set, "%d,", c.Key.Card)
			}
			if len(shared[set.String()]) == 0 {
				sets = append(sets, set.String())
				cards[set.String()] = watching
			}
			shared[set.String()] = append(shared[set.String()], g)
		}
		for _, set := range sets {
			gates := shared[set]
			is := "is"
			if len(gates) > 1 {
				is = "are"
			}
			var names []string
			for _, c := range cards[set] {
				names = append(names, c.where())
			}
			p.say(sheetmodel.Finding{
				Severity: sheetmodel.Informs, Gate: gates[0],
				Sentence: fmt.Sprintf("%s %s watched %s: %s.", capital(p.cr.gateWords(gates)), is, times(len(cards[set])), list(names)),
			})
		}
	},
}

// onePlace reports whether all cards are for one place, so that shared gates say nothing.
func onePlace(cards []*card) bool {
	for _, c := range cards[1:] {
		if !samePlace(cards[0], c) {
			return false
		}
	}
	return true
}

// samePlace reports whether one card's gates are all among the other's; both watch some.
func samePlace(a, b *card) bool {
	if len(a.gates) < len(b.gates) {
		a, b = b, a
	}
	has := make(map[string]bool, len(a.gates))
	for _, g := range a.gates {
		has[g] = true
	}
	for _, g := range b.gates {
		if !has[g] {
			return false
		}
	}
	return true
}
