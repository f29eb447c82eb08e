package rules

import (
	"slices"

	"gatefold/sheetmodel"
)

// Doc is what help prints about a rule.
type Doc struct {
	Name string // short and stable, as in Finding.Rule
	// Basis is an article, a race setting, "own logic" or "common practice, no source".
	Basis    string
	Help     string   // one sentence
	Settings []string // keys of the race file that change what it does
}

// Rule is one check over all rows of one course in one run.
type Rule struct {
	Doc
	check func(p *pass)
}

// All returns the rules in the order in which they look: cards, then rows, then racers, then the draft.
// Later rules see what earlier ones set aside or held.
func All() []Rule {
	return slices.Concat(beforeDraft(), onDraft(), afterDraft())
}

func beforeDraft() []Rule {
	return []Rule{
		ruleUnboundCard, ruleListsNotKnown,
		ruleRunNotBegun, ruleRingedCourse, ruleRunGates, ruleWrittenGates, ruleGatesNotKnown,
		ruleMissingCard, ruleMissingBack, ruleUncoveredGate, ruleOverlap, ruleTwoCards, ruleCardOf, ruleRowCount, ruleYesNo,
		ruleStruckRow, ruleStrip, ruleCode, ruleGateMissing, ruleGateInRun,
		ruleForerunner, ruleBibKnown, ruleOtherCourse, ruleTwoGroups, ruleDidNotStart, ruleRun2List, ruleExchangedBib,
		ruleGateChanged, ruleNeighboursGates, ruleGateInSection, ruleSwap, ruleGateRange, ruleEveryRacer,
		ruleAttempt, ruleHindered, ruleRerunVoid, ruleWentOn, ruleLeftCourse, ruleLeftButFinished,
		ruleMended, ruleFaultThenDNF, ruleDrawing, ruleRowTwice, ruleNeighboursDisagree, ruleArticle, ruleLostSki,
	}
}

// onDraft looks at the lines before rows get their standing.
func onDraft() []Rule { return []Rule{ruleJury} }

func afterDraft() []Rule {
	return []Rule{ruleSameEvent, ruleLostSkiAndFault, ruleSeveralFaults, ruleManyAtOneGate, ruleOtherBib, ruleHeard, ruleJudgeStays}
}

// Check looks at all facts and returns what they say. It does not keep or change f.
//
// Every row of f gets exactly one standing. The order of cards, rows and lists in f is never
// evidence: any order gives the same result. Time grows linearly with rows, cards and starters.
//
// A row whose bib is doubtful is never named by its bib in any sentence; rows with fewer than two
// looks may be, so whoever still has to type such a bib unseen must not be shown what rests on it.
func Check(f Facts) Result {
	d := lay(f)
	d.result.Incomplete = append(d.result.Incomplete, f.Open...)
	before, on, after := beforeDraft(), onDraft(), afterDraft()
	// They lie run by run: who may start run 2 depends on what run 1 proposes.
	for _, cr := range d.courseRuns {
		for i := range before {
			before[i].check(&pass{desk: d, cr: cr, rule: &before[i].Doc})
		}
		(&pass{desk: d, cr: cr}).draft()
		for i := range on {
			on[i].check(&pass{desk: d, cr: cr, rule: &on[i].Doc})
		}
		d.stand(cr)
		for i := range after {
			after[i].check(&pass{desk: d, cr: cr, rule: &after[i].Doc})
		}
	}
	d.stakes()
	d.sortFindings()
	return d.result
}

// sortFindings orders by run, course and how much a finding stops; else they stay in the order of the rules.
func (d *desk) sortFindings() {
	strength := map[sheetmodel.Severity]int{sheetmodel.Blocks: 0, sheetmodel.Asks: 1, sheetmodel.Warns: 2, sheetmodel.Informs: 3}
	slices.SortStableFunc(d.result.Findings, func(a, b sheetmodel.Finding) int {
		return firstOf(
			a.Run-b.Run, d.compareCourses(a.Course, b.Course),
			strength[a.Severity]-strength[b.Severity],
		)
	})
}
