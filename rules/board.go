package rules

import (
	"cmp"
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

// Moment is official time in seconds since 1970 UTC. This package reads no clock: it only compares moments.
type Moment int64

// Notice is one thing that was said in public about a racer's line, in official time.
type Notice struct {
	Run    int
	Course string
	Group  string
	Bib    string
	What   NoticeKind
	At     Moment
	Gate   string // of a line that is made public, or that was overruled; empty: whatever stands
	Code   string
	Why    string
	Open   string // what was open in the list when the line was made public on the referee's word
	// Minutes is the protest period in force when the line was made public; 0: not noted.
	Minutes int
	// StartList is the mark of the start list by which the line was made public; empty: not noted.
	StartList string
}

// NoticeKind is what a Notice did.
type NoticeKind string

// The kinds of notices.
const (
	NoticePosted    NoticeKind = "posted"    // the line was made public
	NoticeCorrected NoticeKind = "corrected" // its time had been entered wrongly; nothing on the board changed
	NoticeWithdrawn NoticeKind = "withdrawn" // referee or jury took it back
	NoticeOverruled NoticeKind = "overruled" // the jury decided against it
	NoticeStands    NoticeKind = "stands"    // the jury's word is that it stands, or its decision was entered at the wrong line
)

// BoardLine is one line as it stands, or stood, on the notice board, with its own protest clock.
type BoardLine struct {
	Run    int
	Course string
	Group  string
	Bib    string
	Gate   string
	Code   string
	Posted Moment  // where it first appeared
	Until  Moment  // last moment at which a protest is in time
	Struck *Moment // nil: it stands
	Why    string  // it is struck
	// Overruled: it is the jury that struck it, not the referee in whatever words.
	Overruled bool
	Open      string // what was open in the list when it went out; empty: nothing
	// Minutes is the length of its clock: a period that the race file changes later doesn't reach a clock that runs.
	Minutes   int
	StartList string // the mark of the start list by which it appeared; empty: not noted
}

// WhyChanged is why the earlier line of a racer is struck when another takes its place.
const WhyChanged = "changed, posted anew"

// Board returns the lines in the order in which they appeared. notices are in the order in which they were
// entered; minutes is the race's protest period, for notices that note none.
//
// A line that is posted again unchanged keeps the clock of its first appearance. One that says something
// else, and one that comes back after it was struck, starts anew; the earlier one stays, struck. One that was struck by a
// decision of the jury's which was entered otherwise since was never struck by the jury: it stands as it did, unless another line of the racer
// hangs there by now. Our own
// logic; length and start of the period are settings of the race.
func Board(notices []Notice, minutes int) []BoardLine {
	standing := map[lineKey]int{}
	var board []BoardLine
	for _, n := range notices {
		key := lineKey{n.Run, n.Course, n.Group, n.Bib}
		at, stands := standing[key]
		strike := func(why string) {
			if stands {
				struck := n.At
				board[at].Struck, board[at].Why = &struck, why
				delete(standing, key)
			}
		}
		switch n.What {
		case NoticePosted:
			if stands && board[at].Gate == n.Gate && board[at].Code == n.Code {
				continue
			}
			strike(WhyChanged)
			standing[key] = len(board)
			length := cmp.Or(n.Minutes, minutes)
			board = append(board, BoardLine{Run: n.Run, Course: n.Course, Group: n.Group, Bib: n.Bib, Gate: n.Gate, Code: n.Code, Posted: n.At, Until: n.At + Moment(60*length), Open: n.Open, Minutes: length, StartList: n.StartList})
		case NoticeCorrected:
			if stands {
				board[at].Posted, board[at].Until = n.At, n.At+Moment(60*board[at].Minutes)
			}
		case NoticeWithdrawn:
			strike(cmp.Or(n.Why, "withdrawn"))
		case NoticeOverruled:
			if stands && n.Gate != "" && (board[at].Gate != n.Gate || board[at].Code != n.Code) {
				continue // another line of the racer
			}
			if stands {
				board[at].Overruled = true
			}
			strike("overruled by the jury")
		case NoticeStands:
			for was := len(board) - 1; was >= 0 && !stands; was-- {
				l := &board[was]
				if (lineKey{l.Run, l.Course, l.Group, l.Bib}) != key {
					continue
				}
				if l.Overruled && (n.Gate == "" || l.Gate == n.Gate && l.Code == n.Code) {
					l.Struck, l.Why, l.Overruled = nil, "", false
					standing[key] = was
					break
				}
				if n.Gate == "" || l.Gate == n.Gate && l.Code == n.Code {
					break // struck since by somebody else: that holds
				}
			}
		}
	}
	return board
}

type lineKey struct {
	run                int
	course, group, bib string
}

// Run2Start is what a racer's line of run 1 means for run 2's start list, as things stand.
type Run2Start string

// What it can mean.
const (
	Run2MayNot   Run2Start = "may not start"
	Run2Protest  Run2Start = "may start under protest" // if the jury lets the racer
	Run2BackIn   Run2Start = "back in"
	Run2Training Run2Start = "out, may run for practice"
	Run2Unknown  Run2Start = "not in the start list"    // any more: nobody is back in by that name
	Run2NotRun   Run2Start = "out by run 1's own lists" // whatever became of the line
)

// Run2Line is one racer of whom run 2's start list must know.
type Run2Line struct {
	Group string
	Bib   string
	Start Run2Start
	Why   string
}

// Run2Needs says what the lines of run 1 mean for run 2's start list. protested are the racers on whose
// line of run 1 a protest is open; upheld are those on whom the jury's last word is that the line stands: a further protest may be open on it. A
// racer with several lines is out while one of them stands. Racers who did not start or finish are in the
// race's own lists and only named here if they have a line. Where the race has lists of run 2 (who may start, who starts on
// condition), each line says what they say otherwise.
func Run2Needs(race *sheetmodel.Race, board []BoardLine, protested, upheld []sheetmodel.Bib) []Run2Line {
	if race.Rules.Run2AfterDSQ == sheetmodel.Run2Yes {
		return nil // a disqualification keeps nobody from run 2
	}
	found := map[sheetmodel.Bib]Run2Line{}
	for _, l := range board {
		if l.Run != 1 {
			continue
		}
		who := sheetmodel.Bib{Group: l.Group, Number: l.Bib}
		was, seen := found[who]
		r := Run2Line{Group: l.Group, Bib: l.Bib}
		switch {
		case slices.Contains(upheld, who) && !slices.Contains(protested, who):
			// Also where the board has it struck: the jury has overruled it first, and come back to it.
			r.Start, r.Why = Run2MayNot, upheldWords
			if race.Rules.Run2AfterDSQ == sheetmodel.Run2Practice {
				r.Start = Run2Training
			}
		case l.Struck != nil && !slices.Contains(upheld, who):
			if seen && was.Start != Run2BackIn {
				continue
			}
			r.Start, r.Why = Run2BackIn, l.Why
		case slices.Contains(protested, who):
			r.Start, r.Why = Run2Protest, "a protest is open; the jury decides whether the racer starts"
		case race.Rules.Run2AfterDSQ == sheetmodel.Run2Practice:
			r.Start, r.Why = Run2Training, "a line of run 1 stands"
		default:
			r.Start, r.Why = Run2MayNot, "a line of run 1 stands"
		}
		found[who] = r
	}
	run1, run2 := race.Run(1), race.Run(2)
	var all []Run2Line
	for _, r := range found {
		r.notRun(run1, run2)
		if r.Start == Run2BackIn && len(race.Starters) > 0 && !slices.ContainsFunc(race.Starters, func(s sheetmodel.Starter) bool { return s.Group == r.Group && s.Number == r.Bib }) {
			r.Start = Run2Unknown
		}
		if run2 != nil {
			r.against(run2)
		}
		all = append(all, r)
	}
	slices.SortFunc(all, func(a, b Run2Line) int {
		return firstOf(cmp.Compare(a.Group, b.Group), len(a.Bib)-len(b.Bib), cmp.Compare(a.Bib, b.Bib))
	})
	return all
}

// notRun takes a racer out whom no line keeps out, but who did not start or finish run 1: nobody is back in because a line is struck, or
// starts under protest, who would be out without it. Run 2's own list goes before that (ICR 627).
func (r *Run2Line) notRun(run1, run2 *sheetmodel.Run) {
	if run1 == nil || r.Start != Run2BackIn && r.Start != Run2Protest {
		return
	}
	if run2 != nil && (run2.MayStart.Holds(r.Group, r.Bib) || run2.Conditional.Holds(r.Group, r.Bib)) {
		return
	}
	did := ""
	switch {
	case run1.DidNotEnd.Holds(r.Group, r.Bib) && run1.Reruns.Holds(r.Group, r.Bib):
		r.Why += "; yet the racer had a re-run, and did not finish one of the two attempts: ask which"
		return
	case run1.DidNotEnd.Holds(r.Group, r.Bib):
		did = didNotFinish
	case run1.DidNotStart.Holds(r.Group, r.Bib) && !run1.LateStarts.Holds(r.Group, r.Bib):
		did = didNotStart
	default:
		return
	}
	r.Start, r.Why = Run2NotRun, did+" in run 1; of its line: "+r.Why
}

// against holds what a line means against run 2's own lists.
func (r *Run2Line) against(run *sheetmodel.Run) {
	listed := run.MayStart.Given == sheetmodel.ListGiven
	may, condition := listed && run.MayStart.Holds(r.Group, r.Bib), run.Conditional.Holds(r.Group, r.Bib)
	switch {
	case r.Start == Run2MayNot && condition && r.Why != upheldWords:
		r.Start, r.Why = Run2Protest, "listed to start on condition; the jury decides whether the start stands"
	case r.Start == Run2MayNot && condition:
		r.Why += "; yet the list of starts on condition has the racer: take it out"
	case r.Start == Run2MayNot && may:
		r.Why += "; yet run 2's list has the racer: take it out"
	case r.Start == Run2BackIn && listed && !may && !condition:
		r.Why += "; run 2's list lacks the racer: put it in"
	case r.Start == Run2Protest && listed && !may && !condition:
		r.Why += "; run 2's list lacks the racer"
	}
}

// upheldWords say that the jury's last word is that a line stands.
const upheldWords = "upheld by the jury"

// JudgeNeed says of one card whether its judge must stay.
type JudgeNeed struct {
	Card sheetmodel.CardKey
	Stay bool
	Why  string // the finding's sentence, of one who stays
	// Rows are those that the judge may be asked about; none: the card isn't in. Maybe: they may hold nothing at all.
	Rows  []int
	Maybe bool
	// Relief are the judges who took over at the place, with when: they stay too.
	Relief []sheetmodel.Relief
}

// JudgeNeeds lists the cards of the placing list, those whose judge must stay first. Nobody is released by
// it: that is for whom the race says.
func JudgeNeeds(race *sheetmodel.Race, result Result) []JudgeNeed {
	var stay, leave []JudgeNeed
	seen := map[sheetmodel.CardKey]bool{}
	places := map[sheetmodel.CardKey]sheetmodel.Place{}
	for _, run := range race.Runs {
		for _, c := range run.Courses {
			for _, p := range c.Places {
				places[sheetmodel.CardKey{Run: run.Number, Course: c.Course, Card: p.Card}] = p
			}
		}
	}
	for _, f := range result.Findings {
		if f.Rule == ruleJudgeStays.Name && f.Card != nil && !seen[*f.Card] {
			seen[*f.Card] = true
			need := JudgeNeed{Card: *f.Card, Stay: true, Why: f.Sentence, Maybe: strings.Contains(f.Sentence, mayStay), Relief: places[*f.Card].Relief}
			for _, ref := range f.Rows {
				need.Rows = append(need.Rows, ref.Row)
			}
			stay = append(stay, need)
		}
	}
	for _, run := range race.Runs {
		for _, c := range run.Courses {
			for _, p := range c.Places {
				key := sheetmodel.CardKey{Run: run.Number, Course: c.Course, Card: p.Card}
				if !seen[key] {
					seen[key] = true
					leave = append(leave, JudgeNeed{Card: key})
				}
			}
		}
	}
	return append(stay, leave...)
}
