package rules

import (
	"slices"

	"gatefold/sheetmodel"
)

// Hiding returns the result without anything that tells what the given rows say: their findings and
// calls are left out, their standings and gaps keep only that they wait.
//
// It is for whoever may still type one of these rows unseen. A finding on a row names its bib, and so
// does a call that another row of the same racer carries.
func (r Result) Hiding(rows []sheetmodel.RowRef) Result {
	hidden := make(map[sheetmodel.RowRef]bool, len(rows))
	for _, ref := range rows {
		hidden[ref] = true
	}
	tells := func(refs []sheetmodel.RowRef) bool {
		return slices.ContainsFunc(refs, func(ref sheetmodel.RowRef) bool { return hidden[ref] })
	}
	var shown Result
	for _, f := range r.Findings {
		if !tells(f.Rows) {
			shown.Findings = append(shown.Findings, f)
		}
	}
	for _, c := range r.Calls {
		if !tells(c.Rows) && !tells(c.Further) {
			shown.Calls = append(shown.Calls, c)
		}
	}
	for _, s := range r.Standings {
		if hidden[s.Ref] {
			s.Why = "its bib needs a look"
		}
		shown.Standings = append(shown.Standings, s)
	}
	for _, g := range r.Incomplete {
		if g.rows != nil && tells(*g.rows) {
			g.Why = "a row needs a look at its bib."
		}
		shown.Incomplete = append(shown.Incomplete, g)
	}
	return shown
}
