package review

import (
	"maps"
	"slices"
	"strings"

	"gatefold/review/jury"
	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// heldBack is what a page says of a recorded row whose bib may still have to be typed.
const heldBack = "recorded; its bib is not shown while it may still have to be typed unseen"

// heldBeside is what it says of one that is settled, while another of its kind is not.
const heldBeside = "recorded; its bib is not shown while another lost ski of this run may still have to be typed unseen"

// needsLook is what a page says of a row whose bib waits.
const needsLook = "its bib still needs a look"

// Veil returns what may be shown of a stack to somebody who may still type a row of it unseen, and what
// the rules say about that; a draft that is printed elsewhere than on the desk's pages is made from it.
// bibs is the number of rows whose bib is covered. The stack itself is not changed, and the sheets as they
// were read still hang on its rows.
func Veil(st *stack.Stack, result rules.Result) (shown *stack.Stack, said rules.Result, bibs int) {
	shown, said, covered, drawn := veil(st, result)
	for i := range shown.Rows {
		if key := shown.Rows[i].BibSeen.Key; covered[key] || drawn[key] {
			bibs++
		}
	}
	return shown, said, bibs
}

// veil returns a copy of the stack without the texts that somebody may still type unseen, what the
// rules say about that copy, the keys of the readings that were covered, and those that were covered only because lot
// has drawn them for the spot check: nothing waits for the latter.
//
// Covered is every field that waits, the bib of a row with one look that a later card could turn into an
// accusation, all of a row that is seen as struck out, and the bibs of lost skis that propose nothing by themselves
// or were set aside, while another lost ski of the run may still have to be typed: who reads that 40 has lost one sees a
// 40 in the next ink. Everything a person is shown is made from the copy, so nothing can follow from a
// covered text. The stack itself is not changed.
func veil(st *stack.Stack, result rules.Result) (behind *stack.Stack, said rules.Result, covering, drawn map[string]bool) {
	covered := map[string]bool{}
	for _, w := range st.Waiting(result) {
		covered[w.Entry.Key] = true
	}
	standing := map[sheetmodel.RowRef]sheetmodel.Standing{}
	for _, s := range result.Standings {
		standing[s.Ref] = s.Standing
	}
	recorded := map[sheetmodel.RowRef]string{}
	shown := *st.Without(result.Overtaken) // of what is covered, every view would be another
	shown.Rows = slices.Clone(st.Rows)
	boxes := saidEmpty(st.Decisions)
	for i := range shown.Rows {
		r := &shown.Rows[i]
		switch {
		case r.Struck && !rules.SaidToStand(shown.Answers, r.Ref):
			// Somebody may still say that it isn't struck out, or take back that it is; then it is typed unseen.
			for _, e := range r.Boxes() {
				if e.Key != "" && r.BibState != sheetmodel.BibSetAside {
					covered[e.Key] = true
				}
			}
		case standing[r.Ref] == sheetmodel.StandsInform && r.MayAccuse(st.Race.Codes) && r.BibState != sheetmodel.BibTwoLooks:
			covered[r.BibSeen.Key] = true
			recorded[r.Ref] = heldBack
		case standing[r.Ref] == sheetmodel.StandsWaiting && r.MayAccuse(st.Race.Codes) && r.BibState == sheetmodel.BibOneLook:
			// It waits for something else, say a gate that isn't its judge's; settled, it may need a second look after all.
			covered[r.BibSeen.Key] = true
		}
		if covered[r.BibSeen.Key] {
			// Whoever is asked whether anything is written in the row isn't told what another said of its boxes.
			for _, e := range r.Boxes() {
				if boxes[e.Key] {
					covered[e.Key] = true
				}
			}
		}
		cover(r, covered)
	}
	said = rules.Check(veiledFacts(&shown, recorded))
	if beside := lostBeside(&shown, said, standing); len(beside) > 0 {
		for _, r := range beside {
			covered[r.BibSeen.Key] = true
			recorded[r.Ref] = heldBeside
			cover(r, covered)
		}
		said = rules.Check(veiledFacts(&shown, recorded))
	}
	aside := asideBeside(&shown, standing)
	for _, r := range aside {
		covered[r.BibSeen.Key] = true
		state, why := r.BibState, r.Reason
		cover(r, covered)
		r.BibState, r.Reason = state, why // that it is set aside, and why, stays
	}
	facts := veiledFacts(&shown, recorded)
	if len(aside) > 0 {
		said = rules.Check(facts)
	}
	if public, untold := madeStill(&shown, said, covered, facts.Jury); len(untold) > 0 {
		facts.Jury, shown.Untold = public, untold
		said = rules.Check(facts)
	}
	shown.Untold = goneUntold(&shown, said, covered)
	behind, said, drawn = coverDrawn(&shown, said, facts, recorded, drawnOpen(st))
	behind.Decisions = slices.DeleteFunc(slices.Clone(st.Decisions), func(d storeDecision) bool {
		if d.Basis == sheetmodel.BasisSetAside && slices.ContainsFunc(aside, func(r *stack.Row) bool { return r.BibSeen.Key == d.Reading }) {
			return false // which holds no text, and can be taken back
		}
		return covered[d.Reading] || drawn[d.Reading]
	})
	rows := map[sheetmodel.RowRef]*stack.Row{}
	for i := range behind.Rows {
		rows[behind.Rows[i].Ref] = &behind.Rows[i]
	}
	for i := range said.Standings {
		s := &said.Standings[i]
		r := rows[s.Ref]
		switch {
		case recorded[s.Ref] != "" && s.Standing == sheetmodel.StandsSetAside:
			s.Standing = sheetmodel.StandsInform
		case s.Why == rules.MayBeStruck: // which tells nothing
		case s.Standing == sheetmodel.StandsWaiting && r != nil && covered[r.BibSeen.Key]:
			// How many looks it lacks can't be said of a row without its text.
			why := plainWhy(r)
			for j := range said.Incomplete {
				said.Incomplete[j].Why = strings.Replace(said.Incomplete[j].Why, s.Why, why, 1)
			}
			s.Why = why
		}
	}
	return behind, said, maps.Clone(covered), drawn
}

// veiledFacts is a stack as the rules look at it, without the bibs of the rows that are only recorded.
func veiledFacts(shown *stack.Stack, recorded map[sheetmodel.RowRef]string) rules.Facts {
	facts := shown.Facts()
	for i := range facts.Rows {
		if why := recorded[facts.Rows[i].Ref]; why != "" {
			facts.Rows[i].BibState, facts.Rows[i].Reason = sheetmodel.BibSetAside, why
			facts.Rows[i].Veiled = true
		}
	}
	return facts
}

// madeStill are the lines that were made public or decided and that the draft as it may be shown still makes; of runs and
// courses in which nothing is covered, all. That a line isn't made any more would tell whose row waits again: all such
// lines of a run are left out alike, as on the page Posting. A decision stays while the racer has another line: whether it
// was about that one is asked, and what is asked holds the line. untold are the racers of whom something is left out: what was made
// public of them is told beside no line that they have by now.
func madeStill(shown *stack.Stack, said rules.Result, covered map[string]bool, lines []rules.JuryLine) (still []rules.JuryLine, untold map[jury.Line]bool) {
	waits := func(run int, course string) bool {
		return slices.ContainsFunc(shown.Rows, func(r stack.Row) bool {
			return r.Ref.Run == run && r.Ref.Course == course && slices.ContainsFunc(r.Boxes(), func(e *stack.Entry) bool { return covered[e.Key] })
		})
	}
	untold = map[jury.Line]bool{}
	for _, l := range lines {
		made := func(test func(sheetmodel.Call) bool) bool {
			return slices.ContainsFunc(said.Calls, func(c sheetmodel.Call) bool {
				return c.Run == l.Run && c.Course == l.Course && c.Group == l.Group && c.Bib == l.Bib && test(c)
			})
		}
		posted := made(func(c sheetmodel.Call) bool { return !c.Waiting && l.PostedGate == c.Gate && l.PostedCode == c.Code })
		decided := l.Decided && made(func(sheetmodel.Call) bool { return true }) || // it may wait for what is asked of the decision
			slices.ContainsFunc(said.Calls, func(c sheetmodel.Call) bool {
				return l.MayBeOf(shown.Race, c) || l.MayHaveMovedTo(c) // whether it is the same racer, or the same row, is asked, too
			})
		if posted || !waits(l.Run, l.Course) {
			still = append(still, l)
			continue
		}
		untold[jury.Line{Run: l.Run, Course: l.Course, Group: l.Group, Bib: l.Bib}] = true
		if decided {
			l.Posted, l.PostedGate, l.PostedCode, l.Untold = false, "", "", true
			still = append(still, l)
		}
	}
	return still, untold
}

// goneUntold adds to what isn't told the lines that the draft has no more, in runs and courses where something is covered: also those that
// never hung anywhere, or hang there no more.
func goneUntold(shown *stack.Stack, said rules.Result, covered map[string]bool) map[jury.Line]bool {
	untold := maps.Clone(shown.Untold)
	for of, on := range shown.GoneLines() {
		made := slices.ContainsFunc(said.Calls, func(c sheetmodel.Call) bool {
			return callAt(c) == of && !c.Waiting && c.Gate == on.Gate && c.Code == on.Code
		})
		if made || !slices.ContainsFunc(shown.Rows, func(r stack.Row) bool { return isCovered(&r, of, covered) }) {
			continue
		}
		if untold == nil {
			untold = map[jury.Line]bool{}
		}
		untold[of] = true
	}
	return untold
}

// isCovered reports whether a row of a line's run and course is still to be typed unseen.
func isCovered(r *stack.Row, of jury.Line, covered map[string]bool) bool {
	return r.Ref.Run == of.Run && r.Ref.Course == of.Course && slices.ContainsFunc(r.Boxes(), func(e *stack.Entry) bool { return covered[e.Key] })
}

// lostBeside are the settled lost skis that no standing proposal rests on, in runs and courses where another row that
// is one, or may be, still waits for its bib. What that reads as decides nothing here: said knows it no more.
func lostBeside(shown *stack.Stack, said rules.Result, standing map[sheetmodel.RowRef]sheetmodel.Standing) []*stack.Row {
	open := lostOpen(shown, standing)
	calls := map[sheetmodel.RowRef]bool{}
	for _, s := range said.Standings {
		calls[s.Ref] = s.Standing == sheetmodel.StandsCall
	}
	var beside []*stack.Row
	for i := range shown.Rows {
		r := &shown.Rows[i]
		if open[runOn{r.Ref.Run, r.Ref.Course}] && r.BibState == sheetmodel.BibTwoLooks && !r.Struck && r.CodeSure && lostSki(shown.Race.Codes, r) && !calls[r.Ref] {
			beside = append(beside, r)
		}
	}
	return beside
}

// asideBeside are the lost skis that were set aside, where another one may still have to be typed: what was read or typed there tells as
// much of that as a settled one does.
func asideBeside(shown *stack.Stack, standing map[sheetmodel.RowRef]sheetmodel.Standing) []*stack.Row {
	open := lostOpen(shown, standing)
	var aside []*stack.Row
	for i := range shown.Rows {
		r := &shown.Rows[i]
		if open[runOn{r.Ref.Run, r.Ref.Course}] && r.BibState == sheetmodel.BibSetAside && len(r.Nothing) == 0 && r.BibSeen.Key != "" && (!r.CodeSure || lostSki(shown.Race.Codes, r)) {
			aside = append(aside, r)
		}
	}
	return aside
}

// runOn is a run of a course.
type runOn struct {
	run    int
	course string
}

// lostOpen are the runs of courses where a row that is a lost ski, or may be one, still waits for its bib.
func lostOpen(shown *stack.Stack, standing map[sheetmodel.RowRef]sheetmodel.Standing) map[runOn]bool {
	open := map[runOn]bool{}
	for i := range shown.Rows {
		r := &shown.Rows[i]
		if standing[r.Ref] == sheetmodel.StandsWaiting && r.BibState == sheetmodel.BibWaiting && !r.Struck && (!r.CodeSure || lostSki(shown.Race.Codes, r)) {
			open[runOn{r.Ref.Run, r.Ref.Course}] = true
		}
	}
	return open
}

// lostSki reports whether a row tells of a lost ski.
func lostSki(book sheetmodel.CodeBook, r *stack.Row) bool {
	c, known := book.Find(r.Row.Code)
	return known && (c.Effect == sheetmodel.EffectLostSki || c.Effect == sheetmodel.EffectLostTwo)
}

// saidEmpty are the readings of which somebody has ever said that nothing is written there.
func saidEmpty(decisions []storeDecision) map[string]bool {
	said := map[string]bool{}
	for _, d := range decisions {
		if d.Basis == sheetmodel.BasisNoWriting {
			said[d.Reading] = true
		}
	}
	return said
}

// plainWhy says what a covered row still lacks.
func plainWhy(r *stack.Row) string {
	why := needsLook
	if !r.CodeSure {
		why += "; what happened is not settled"
	}
	if !r.GateSure {
		why += "; its gate is not settled"
	}
	return why
}

// cover takes the texts of covered fields out of a row.
func cover(r *stack.Row, covered map[string]bool) {
	hide := func(e *stack.Entry, inks ...*sheetmodel.Reading) bool {
		if e.Key == "" || !covered[e.Key] {
			return false
		}
		blank(&e.Reading)
		for _, ink := range inks {
			blank(ink)
		}
		// Why it waits is in fixed words that hold no text; who typed it and what is.
		e.Seen = look.Seen{State: e.Seen.State, Next: e.Seen.Next, Reason: e.Seen.Reason}
		if e.Seen.State == sheetmodel.BibOneLook || e.Seen.State == sheetmodel.BibTwoLooks {
			e.Seen.State = sheetmodel.BibWaiting
		}
		return true
	}
	if hide(&r.BibSeen, &r.Ink.Bib, &r.Ink.BibAgain) {
		r.Bib, r.Group, r.BibState, r.Reason = "", "", sheetmodel.BibWaiting, needsLook
		// Nor is told that a panel seems ticked whoever is asked whether anything is written in the row.
		if !r.Panel.Sure() {
			blank(&r.Panel.Reading)
			blank(&r.Ink.Panel)
			r.Panel.Seen = look.Seen{State: sheetmodel.BibWaiting, Next: r.Panel.Seen.Next}
			r.Row.Panel = ""
		}
	}
	hide(&r.Panel, &r.Ink.Panel)
	hide(&r.Rerun, &r.Ink.Rerun)
	if hide(&r.Code, &r.Ink.Code, &r.Ink.CodeOther) {
		r.Row.Code, r.CodeSure = "", false
	}
	if hide(&r.Gate, &r.Ink.Gate) {
		r.Row.Gate, r.GateSure = "", false
	}
}

// blank leaves of a reading only where it is.
func blank(r *sheetmodel.Reading) {
	*r = sheetmodel.Reading{Field: r.Field, Side: r.Side, State: sheetmodel.Doubtful, Region: r.Region}
}
