package draft

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

// Explanation says of one bib why it is on the list or isn't, a course and run at a time.
type Explanation struct {
	Bib, Group string
	Known      string // what the start list says
	Parts      []Explained
}

// Explained is what one course and run have to do with the bib.
type Explained struct {
	Where  string // "Blue · run 1"
	Answer string
	Rows   []ExplainedRow // that name the bib with certainty, or with one look
	Said   []string       // what the cards say together of it, each with what it rests on
	Open   []string       // what can still change the answer
}

// ExplainedRow is one row and what becomes of it.
type ExplainedRow struct {
	Words string   // "card 4, row 2: fault F at gate 12"
	Looks []string // that its bib rests on
	Why   string   // what becomes of it
}

// Groups are the groups that wear a number, in the order of the start list; one at most where the number
// names one racer.
func Groups(race *sheetmodel.Race, bib string) []string {
	var groups []string
	for _, s := range race.StartersWith(bib) {
		groups = append(groups, s.Group)
	}
	return groups
}

// ExplainAll explains each racer who wears a number: one, where group says which. A number that nobody wears,
// and a group that the race hasn't, have one explanation too: that.
func (d *Draft) ExplainAll(race *sheetmodel.Race, bib, group string) []Explanation {
	groups := Groups(race, bib)
	if group != "" || len(groups) < 2 {
		return []Explanation{d.Explain(race, bib, group)}
	}
	var all []Explanation
	for _, g := range groups {
		all = append(all, d.Explain(race, bib, g))
	}
	return all
}

// Who names the racer: the number, and its group where the number alone doesn't say who.
func (e Explanation) Who() string { return strings.Join(nonEmpty(e.Group, e.Bib), " ") }

// Explain says why a bib is on the list or isn't. group is empty where the number alone is meant. A row whose
// bib waits is never explained by what it may say, only counted.
func (d *Draft) Explain(race *sheetmodel.Race, bib, group string) Explanation {
	e := Explanation{Bib: bib, Group: group}
	var courses []string
	var starts []string
	for _, s := range race.StartersWith(bib) {
		if group == "" || s.Group == group {
			courses = append(courses, s.Course)
			starts = append(starts, strings.Join(nonEmpty(s.Group, s.Course), ", "))
		}
	}
	unknown := group != "" && !slices.ContainsFunc(race.Groups, func(g sheetmodel.Group) bool { return g.Name == group })
	switch len(starts) {
	case 0:
		e.Known = "The start list has no such bib."
		if race.Forerunners.Holds("", bib) {
			e.Known = "A forerunner: what is written of one is information, never a call."
		}
		if unknown {
			var groups []string
			for _, g := range race.Groups {
				groups = append(groups, g.Name)
			}
			e.Known = fmt.Sprintf("The race has no group %q; it has %s.", group, strings.Join(groups, ", "))
		}
	case 1:
		e.Known = "On the start list: " + starts[0] + "."
	default:
		e.Known = "On the start list, more than one racer: " + strings.Join(starts, "; ") + ". Say which group."
	}
	for i := range d.Sections {
		s := &d.Sections[i]
		if p := s.explain(race, bib, group); slices.Contains(courses, s.Course) || len(p.Rows)+len(p.Said) > 0 {
			e.Parts = append(e.Parts, p)
		}
	}
	if len(e.Parts) > 0 || unknown {
		return e
	}
	if len(starts) == 0 { // each course by itself would say the same of a bib that no list and no card knows
		if waits := d.mayName(); waits != "" {
			e.Parts = []Explained{{Where: "All runs and courses", Answer: "Not on the list: no row of a card that is in names it with certainty.", Open: []string{waits}}}
		}
		return e
	}
	for i := range d.Sections { // nothing names it yet, and something still may
		if s := &d.Sections[i]; s.Counts.CardsIn > 0 {
			e.Parts = append(e.Parts, s.explain(race, bib, group))
		}
	}
	return e
}

// mayName counts the rows of all sections whose bib is not settled or not shown; empty where there are none.
func (d *Draft) mayName() string {
	n := 0
	for i := range d.Sections {
		n += unsettled(d.Sections[i].Rows) + unsettled(d.Sections[i].Recorded)
	}
	if n == 0 {
		return ""
	}
	return counted(n, "row waits for its bib or only records it; what it may be is not told here", "rows wait for their bibs or only record them; what they may be is not told here")
}

func (s *Section) explain(race *sheetmodel.Race, bib, group string) Explained {
	p := Explained{Where: sectionWords(*s)}
	mine := func(b, g string) bool { return b == bib && (group == "" || g == "" || g == group) }
	p.Answer = "Not on the list: no row of a card that is in names it with certainty."
	named := map[[2]int]bool{}
	add := func(why string, rows ...Row) {
		for _, r := range rows {
			state := sheetmodel.BibState(r.BibState)
			if !mine(r.Bib, r.group) || named[[2]int{r.Card, r.Row}] || state != sheetmodel.BibOneLook && state != sheetmodel.BibTwoLooks {
				continue
			}
			named[[2]int{r.Card, r.Row}] = true
			w := ExplainedRow{Words: cardWords(r) + ": " + whatWords(r), Why: why}
			if group != "" && r.group == "" && len(race.StartersWith(bib)) > 1 {
				w.Words += "; the row doesn't say of which group"
			}
			if why == "" {
				w.Why = r.Why
			}
			for _, l := range r.Looks {
				w.Looks = append(w.Looks, lookWords(l))
			}
			p.Rows = append(p.Rows, w)
		}
	}
	var answers []string
	answer := func(l Line, words string, args ...any) {
		words = fmt.Sprintf(words, args...)
		if group == "" && l.Group != "" && len(race.StartersWith(bib)) > 1 {
			words = l.Group + ": " + words
		}
		answers = append(answers, words)
	}
	for _, l := range s.Proposed {
		if mine(l.Bib, l.Group) {
			answer(l, "Proposed: gate %s, %s, %s (%s). Referee and jury decide.", orDash(l.Gate), l.Code, l.Meaning, BasisWords(l.Basis))
			add("carries the proposal", l.Rows...)
			add("further evidence beside it", l.Further...)
		}
	}
	for _, l := range s.Overruled {
		if mine(l.Bib, l.Group) {
			words := fmt.Sprintf("Not on the list: the jury overruled the proposal (gate %s, %s, %s)", orDash(l.Gate), l.Code, l.Meaning)
			if j := l.Jury; j != nil && j.DecidedAt != nil { // of another fault, it went for this one too
				words += " at " + j.DecidedAt.Format("15:04:05")
				if len(j.Present) > 0 {
					words += ", present " + strings.Join(j.Present, ", ")
				}
				if j.Reason != "" {
					words += "; reason: " + j.Reason
				}
			}
			answer(l, "%s. The rows stay as they were written.", words)
			add("carried the proposal that was overruled", l.Rows...)
			add("further evidence beside it", l.Further...)
		}
	}
	for _, l := range s.Waiting {
		if mine(l.Bib, l.Group) {
			answer(l, "Not on the list yet: gate %s, %s, %s would be proposed (%s). It waits: %s.", orDash(l.Gate), l.Code, l.Meaning, BasisWords(l.Basis), strings.Join(l.WaitsFor, "; "))
			add("would carry the proposal", l.Rows...)
			add("further evidence beside it", l.Further...)
		}
	}
	add("", s.Rows...)
	if n := len(p.Rows); len(answers) == 0 && n > 0 {
		answers = append(answers, fmt.Sprintf("Not on the list yet: %s.", counted(n, "row that names it waits", "rows that name it wait")))
	}
	if len(answers) > 0 {
		p.Answer = strings.Join(answers, " ")
	}
	add("", slices.Concat(s.SetAside, s.Recorded)...)
	if len(answers) == 0 && len(p.Rows) > 0 {
		p.Answer = fmt.Sprintf("Not on the list: %s, and none proposes anything.", counted(len(p.Rows), "row names it", "rows name it"))
	}
	for _, f := range slices.Concat(s.ForJury, s.Conflicts, s.Notes) {
		if f.Bib != "" && mine(f.Bib, f.Group) {
			p.Said = append(p.Said, fmt.Sprintf("%s (%s)", f.Sentence, BasisWords(f.Basis)))
		}
	}
	p.Open = s.mayChange(race.Run(s.Run), bib, group)
	return p
}

// mayChange says what can still put a bib on the list or take it off.
func (s *Section) mayChange(run *sheetmodel.Run, bib, group string) []string {
	var open []string
	waits, recorded := unsettled(s.Rows), unsettled(s.Recorded)
	if waits > 0 {
		open = append(open, counted(waits, "row waits for its bib; what it may be is not told here", "rows wait for their bibs; what they may be is not told here"))
	}
	if recorded > 0 {
		open = append(open, counted(recorded, "row is only recorded so far, and its bib is not told here either", "rows are only recorded so far, and their bibs are not told here either"))
	}
	if n := len(s.Missing); n > 0 {
		open = append(open, counted(n, "card is", "cards are")+" not in")
	}
	if n := len(s.Backs); n > 0 {
		open = append(open, counted(n, "card is in without its back", "cards are in without their backs"))
	}
	if n := len(s.OpenGates); n > 0 {
		open = append(open, counted(n, "stretch of gates is", "stretches of gates are")+" on nobody's card")
	}
	if run == nil {
		return open
	}
	for _, l := range []struct {
		name string
		list sheetmodel.BibList
	}{{"did not start", run.DidNotStart}, {"did not finish", run.DidNotEnd}, {"re-runs", run.Reruns}} {
		switch {
		case l.list.Given == sheetmodel.ListUnknown:
			open = append(open, "the list “"+l.name+"” was not handed in")
		case l.list.Holds(group, bib):
			open = append(open, "it is on the list “"+l.name+"”")
		}
	}
	return open
}

// unsettled counts rows whose bib is not settled, or not shown.
func unsettled(rows []Row) int {
	n := 0
	for _, r := range rows {
		if sheetmodel.BibState(r.BibState) == sheetmodel.BibWaiting {
			n++
		}
	}
	return n
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprint(n) + " " + many
}
