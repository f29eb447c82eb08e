package review

import (
	"maps"
	"reflect"
	"slices"

	"gatefold/review/stack"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// drawnOpen are the bibs that lot has drawn for the spot check and nobody has typed unseen yet, by their readings.
func drawnOpen(st *stack.Stack) map[string]bool {
	open := map[string]bool{}
	for _, d := range st.SpotCheck().Drawn {
		if !d.Typed {
			open[d.Entry.Key] = true
		}
	}
	return open
}

// coverDrawn covers the bibs drawn by lot of rows that are only recorded, as far as the list says the same without
// them: no line, question or open thing may hang on one. A line of the draft names its racer, drawn or not: it is what
// the list is for (decisions/0005). recorded gains the rows that were covered; picked are their readings.
func coverDrawn(shown *stack.Stack, said rules.Result, facts rules.Facts, recorded map[sheetmodel.RowRef]string, open map[string]bool) (after *stack.Stack, saidAfter rules.Result, picked map[string]bool) {
	standing := map[sheetmodel.RowRef]sheetmodel.Standing{}
	for _, s := range said.Standings {
		standing[s.Ref] = s.Standing
	}
	var rows []int
	for i := range shown.Rows {
		r := &shown.Rows[i]
		if open[r.BibSeen.Key] && recorded[r.Ref] == "" && standing[r.Ref] == sheetmodel.StandsInform {
			rows = append(rows, i)
		}
	}
	if len(rows) == 0 {
		return shown, said, nil
	}
	without := func(rows []int) (*stack.Stack, rules.Result, map[string]bool, bool) {
		copied := *shown
		copied.Rows = slices.Clone(shown.Rows)
		why, keys := maps.Clone(recorded), map[string]bool{}
		for _, i := range rows {
			r := &copied.Rows[i]
			why[r.Ref], keys[r.BibSeen.Key] = heldBack, true
			cover(r, keys)
		}
		f := veiledFacts(&copied, why)
		f.Jury = facts.Jury
		result := rules.Check(f)
		same := reflect.DeepEqual(ofBibs(result), ofBibs(said)) && reflect.DeepEqual(result.Calls, said.Calls) && reflect.DeepEqual(result.Incomplete, said.Incomplete)
		result.Findings = said.Findings
		return &copied, result, keys, same
	}
	// Mostly none matters and one look tells; else the halves are looked at by themselves.
	var silent func(rows []int) []int
	silent = func(rows []int) []int {
		if len(rows) == 0 {
			return nil
		}
		if _, _, _, same := without(rows); same {
			return rows
		}
		if len(rows) == 1 {
			return nil
		}
		return append(silent(rows[:len(rows)/2]), silent(rows[len(rows)/2:])...)
	}
	rows = silent(rows)
	after, saidAfter, picked, same := without(rows)
	if len(rows) == 0 || !same { // two that change something together only
		return shown, said, nil
	}
	for _, i := range rows {
		recorded[shown.Rows[i].Ref] = heldBack
	}
	return after, saidAfter, picked
}

// ofBibs are the findings but for who stays: a covered row keeps no judge, though it looks as if a person had set it aside.
func ofBibs(r rules.Result) (all []sheetmodel.Finding) {
	for _, f := range r.Findings {
		if f.Rule != "judge-stays" {
			all = append(all, f)
		}
	}
	return all
}
