package rules

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

// manyAtOneGate is from how many racers on the same fault at one gate is told to the referee.
// Our own choice: at one gate, three faults in a race of sixty are usual.
const manyAtOneGate = 5

var ruleManyAtOneGate = Rule{
	Doc: Doc{
		Name: "many-at-one-gate", Basis: "own logic",
		Help: "Where many racers have the same fault at one gate, the gate may have been set or judged wrongly: the referee is told, and nothing is held.",
	},
	check: func(p *pass) {
		type fault struct{ code, gate string }
		at := map[fault][]*row{}
		count := map[fault]int{}
		var order []fault
		for _, rows := range p.cr.racerRows() {
			seen := map[fault]bool{}
			for _, w := range keep(rows, (*row).live, p.accusing, func(w *row) bool { return !w.lost() && w.gate() != "" }) {
				f := fault{w.Code, w.gate()}
				if !seen[f] {
					seen[f] = true
					count[f]++
				}
				if len(at[f]) == 0 {
					order = append(order, f)
				}
				at[f] = append(at[f], w)
			}
		}
		slices.SortFunc(order, func(a, b fault) int {
			return firstOf(p.cr.compareGates(a.gate, b.gate), strings.Compare(a.code, b.code))
		})
		for _, g := range order {
			if count[g] < manyAtOneGate {
				continue
			}
			p.say(p.about(sheetmodel.Informs, fmt.Sprintf("%s has %d racers with code %s: was it set and judged rightly? Tell the referee.", capital("gate "+g.gate), count[g], g.code), at[g]...))
		}
	},
}
