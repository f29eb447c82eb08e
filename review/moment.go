package review

import (
	"context"
	"fmt"
	"maps"
	"net/http"
	"slices"

	"gatefold/review/draft"
	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

type storeDecision = store.Decision

// moment is the race as one page sees it. full and its result are never given to a template; shown and
// said are what is left of them behind the veil.
type moment struct {
	number  int64 // counts up; who only looks at a page makes no new moment
	race    *sheetmodel.Race
	full    *stack.Stack
	result  rules.Result
	shown   *stack.Stack
	said    rules.Result
	covered map[string]bool
	drawn   map[string]bool // covered too, for the spot check alone: nothing waits for them
	lot     map[string]bool // all that lot has drawn and nobody has typed unseen yet, also those that lines name
	waits   []stack.Wait
	open    int            // reasons why the draft is incomplete, as its pages count them
	viewer  bool           // made for somebody who is only to look
	done    []string       // runs and courses of the draft to which nothing is open
	ahead   []string       // those in which nobody is placed, and of which no card is in
	things  map[string]int // how many things are open in each of the draft, behind the veil
}

// now looks at the race.
func (d *Desk) now(ctx context.Context) (*moment, error) {
	race, err := d.opt.Race()
	if err != nil {
		// Somebody is at work on the race's files; neither the store nor this desk has a fault.
		return nil, &pageError{http.StatusInternalServerError, sentence(err.Error()), "Mend the race's files and load this page again. Nothing that was settled is lost, and the desk stays open."}
	}
	head, err := d.opt.Store.Head(ctx)
	if err != nil {
		return nil, err
	}
	if m := d.lookedAt(head, race); m != nil {
		return m, nil
	}
	// One looks, and those who came meanwhile share what was seen: it holds all that was kept when they came.
	d.looking.Lock()
	defer d.looking.Unlock()
	if m := d.lookedAt(head, race); m != nil {
		return m, nil
	}
	if head, err = d.opt.Store.Head(ctx); err != nil {
		return nil, err
	}
	m := &moment{race: race}
	if m.full, err = stack.Load(ctx, race, d.opt.Store); err != nil {
		return nil, err
	}
	m.result = rules.Check(m.full.Facts())
	m.waits = m.full.Waiting(m.result)
	m.shown, m.said, m.covered, m.drawn = veil(m.full, m.result)
	m.lot = drawnOpen(m.full)
	if err := m.countOpen(); err != nil {
		return nil, err
	}
	d.mu.Lock()
	d.moments++
	m.number = d.moments
	d.latest, d.latestHead = m, head
	d.mu.Unlock()
	return m, nil
}

// lookedAt returns the latest moment if it is one of this race and holds all that the store had at a head; else nil.
func (d *Desk) lookedAt(head int64, race *sheetmodel.Race) *moment {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.latest != nil && d.latestHead >= head && d.latest.race == race {
		return d.latest
	}
	return nil
}

// countOpen counts what the draft calls open. The draft also holds what the rules don't know of: runs
// without gates or judges, photos that nobody has read. What is complete is complete with all that was read;
// how many things are open is counted behind the veil, or the number would tell whether what somebody has
// just typed goes with what still has to be typed.
func (m *moment) countOpen() error {
	full, all, err := openThings(m.full, m.result)
	if err != nil {
		return err
	}
	shown, things, err := openThings(m.shown, m.said)
	if err != nil {
		return err
	}
	m.open = shown
	if shown == 0 {
		m.open = full
	}
	m.things = map[string]int{}
	for _, s := range all {
		m.things[s.at] = s.open
	}
	for _, s := range things {
		if m.things[s.at] == 0 && s.open == 0 {
			m.done = append(m.done, s.at)
		}
		if s.ahead {
			m.ahead = append(m.ahead, s.at)
		}
		if s.open > 0 {
			m.things[s.at] = s.open
		}
	}
	return nil
}

// openAt is how many things are open in a run and on a course.
type openAt struct {
	at    string
	open  int
	ahead bool // nobody is placed there, and no card of it is in
}

// aheadWords names where nobody is placed yet: a run, or a course of one where the others have judges.
func (m *moment) aheadWords() []string {
	var words []string
	for _, run := range m.race.Runs {
		var courses []string
		for _, c := range run.Courses {
			if at := courseWords(run.Number, c.Course); slices.Contains(m.ahead, at) {
				courses = append(courses, at)
			}
		}
		if len(courses) == len(run.Courses) && len(courses) > 0 {
			courses = []string{fmt.Sprintf("run %d", run.Number)}
		}
		words = append(words, courses...)
	}
	return words
}

// openThings counts what the draft of a stack calls open, in all and for each of its runs and courses.
func openThings(st *stack.Stack, result rules.Result) (open int, each []openAt, err error) {
	list, err := draft.New(st, result, draft.Options{})
	if err != nil {
		return 0, nil, err
	}
	known := map[string]bool{}
	for _, s := range list.Sections {
		at := courseWords(s.Run, s.Course)
		known[at] = true
		open += len(s.Incomplete)
		each = append(each, openAt{at, len(s.Incomplete), s.Counts.CardsExpected == 0 && s.Counts.CardsIn == 0})
	}
	for _, g := range result.Incomplete {
		if !known[courseWords(g.Run, g.Course)] {
			open++
		}
	}
	return open, each, nil
}

// task is what a waiting field asks of the person at the desk.
type task string

const (
	taskType  task = "type"  // type it from the ink
	taskJudge task = "judge" // ask the judge
	taskOther task = "other" // this person has typed or seen it: somebody else, or the judge
)

// todo is one field that waits, as it concerns one person.
type todo struct {
	stack.Wait
	task  task
	later int  // in which order it was left for later; 0: it wasn't
	held  bool // somebody else is at it now
	ranks int  // what it can do to the draft, most first
	kept  bool // another lost ski of the run was typed by this person, and somebody else is here who has typed none
}

// offered reports whether the entry is given to this person when they ask for the next one.
func (t todo) offered() bool { return t.task != taskOther && !t.held && !t.kept }

// todos lists what waits for a session, what it can do first.
func (d *Desk) todos(m *moment, s *session) []todo {
	spent, called := m.spent(s), d.called(m, s)
	asks := s.roles().Ask()
	waits := slices.DeleteFunc(slices.Clone(m.waits), func(w stack.Wait) bool {
		return m.photosDiffer(w.Row) // first somebody says which photo counts
	})
	d.mu.Lock() // everybody waits for it: what can be found out before, is
	defer d.mu.Unlock()
	knows := func(key string) bool { return called[key] || d.told.knows(s, key) }
	var all []todo
	for _, w := range waits {
		t := todo{Wait: w, later: s.later[w.Entry.Key], held: d.heldByOther(s, w.Entry.Key)}
		switch w.Need {
		case look.NeedNothing:
			continue // a question about its photos, on its own page
		case look.NeedJudge:
			t.task = taskJudge
			if knows(w.Entry.Key) || spent[w.Entry.Key] && !asks {
				t.task = taskOther // what they type of the judge's word is a nod, or isn't theirs to enter
			}
		case look.NeedEntry, look.NeedSecondPerson:
			t.task = taskType
			if spent[w.Entry.Key] || knows(w.Entry.Key) {
				t.task = taskOther
			}
			t.kept = t.task == taskType && w.Entry.Part == sheetmodel.PartBib && d.othersFor(m, s, spent, w.Row)
		}
		if t.task == taskType {
			t.ranks = m.consequence(w.Row)
		}
		all = append(all, t)
	}
	rank := map[task]int{taskType: 0, taskJudge: 1, taskOther: 2}
	slices.SortStableFunc(all, func(a, b todo) int {
		if a.later != b.later {
			return a.later - b.later // what was left first comes back first: each is seen once a round
		}
		if a.task == taskType && b.task == taskType {
			return a.ranks - b.ranks
		}
		return rank[a.task] - rank[b.task] // a judge is asked once, for all of a card
	})
	return all
}

// consequence ranks a row by what it can do to the draft, most first: a code that proposes by itself, one that nobody is
// sure of, one that proposes with others. It looks at no bib: the order in which entries come tells none.
func (m *moment) consequence(ref sheetmodel.RowRef) int {
	row := m.full.Row(ref)
	if row == nil || !row.Code.Sure() {
		return 1
	}
	if code, ok := m.race.Codes.Find(row.Code.Seen.Text); ok && code.Effect == sheetmodel.EffectPropose {
		return 0
	}
	return 2
}

// photosDiffer reports whether two photos show the row differently and nobody has said which counts.
func (m *moment) photosDiffer(ref sheetmodel.RowRef) bool {
	row := m.full.Row(ref)
	if row == nil {
		return false
	}
	printed := m.full.Cards[row.Card].Printed
	return slices.ContainsFunc(m.photoQuestions(), func(q photoQuestion) bool {
		return q.Card == printed && q.Concerns(ref.Row, row.Row.Panel)
	})
}

// left counts what is left to do, for the sentence on every page.
type left struct {
	Type, Judge, Other int // entries, for this person
	Calls              int // cards whose judge is asked, once for all entries
	Questions          int
	Missing            int // cards
	Backs              int // of cards that are in
	Unbound            int
	Lists              []absentList // of a run that nobody has handed in, not even as none
	Holes              int          // runs and courses with gates that nobody's card covers
	NoGates            int          // runs and courses with cards whose gates aren't known
	Refused            int          // photos
	Unread             int
	Held               int // of the entries, those that somebody else is at now
	Kept               int // of the entries, those that somebody else who is here types first
}

// What a thing takes, likely. Typing an entry took 2.4 s of simulated hands by the keystroke-level model
// (docs/load.md); people who look twice and have cold hands get four times that. A minute for a judge who is called
// once for all of a card, and for a question: from no measurement, our own logic.
const (
	typeSeconds = 10
	callSeconds = 60
)

// Minutes is how long it likely takes to settle what entries and questions wait, for one person at this desk.
func (l left) Minutes() int {
	return (l.Type*typeSeconds + l.Other*typeSeconds + (l.Calls+l.Questions)*callSeconds + 59) / 60
}

// Entries is everything that can be typed or asked.
func (l left) Entries() int { return l.Type + l.Judge + l.Other }

// Nothing reports whether nothing is left for anybody.
func (l left) Nothing() bool {
	return l.Entries()+l.Questions+l.Missing+l.Backs+l.Unbound+l.Unread+len(l.Lists)+l.Holes+l.NoGates == 0
}

func (d *Desk) left(m *moment, todos []todo) left {
	var l left
	asked := map[sheetmodel.CardKey]bool{}
	for _, t := range todos {
		if t.held && t.task != taskOther {
			l.Held++
		} else if t.kept {
			l.Kept++
		}
		switch t.task {
		case taskType:
			l.Type++
		case taskJudge:
			l.Judge++
			asked[t.Row.CardKey] = true
		case taskOther:
			l.Other++
		}
	}
	l.Calls = len(asked)
	l.Questions = len(m.questions()) + len(m.photoQuestions()) + m.full.UnnamedSides()
	for _, c := range m.full.Cards {
		if !c.In && c.GapReason == "" {
			l.Missing++
		}
		if c.In && len(c.Gates) == 0 {
			l.Unbound++
		}
	}
	m.leftByRules(&l)
	for _, p := range m.full.Photos {
		switch p.Fate {
		case store.FateRefused:
			l.Refused++
		case store.FateUnread:
			l.Unread++
		case store.FateAccepted:
		}
	}
	return l
}

// leftByRules counts what keeps the draft open without being an entry, a question or a card. Where nobody is placed yet,
// nothing is counted: the line above each page names those by themselves.
func (m *moment) leftByRules(l *left) {
	lists := map[int]bool{}
	for _, f := range m.said.Findings {
		switch f.Rule {
		case "lists-not-known":
			lists[f.Run] = true // a run's courses share its lists
		case "missing-back":
			if f.Severity == sheetmodel.Warns { // else a person closed it
				l.Backs++
			}
		case "uncovered-gate":
			l.Holes++
		case "gates-not-known":
			if f.Card == nil { // else it is a header to confirm
				l.NoGates++
			}
		}
	}
	for _, run := range slices.Sorted(maps.Keys(lists)) {
		if r := m.race.Run(run); r != nil {
			l.Lists = append(l.Lists, absentLists(r)...)
		}
	}
}

// absentList says which list of the day nobody has handed in.
type absentList struct{ Words string }

// absentLists names the lists that a run lacks; where it lacks all, in one sentence.
func absentLists(r *sheetmodel.Run) (all []absentList) {
	absent := func(l sheetmodel.BibList) bool {
		return l.Given != sheetmodel.ListGiven && l.Given != sheetmodel.ListNone
	}
	if absent(r.DidNotStart) && absent(r.DidNotEnd) && absent(r.Reruns) {
		return []absentList{{fmt.Sprintf("run %d: who did not start, who did not finish and the re-runs are not in race.yaml yet", r.Number)}}
	}
	if absent(r.DidNotStart) {
		all = append(all, absentList{fmt.Sprintf("run %d: who did not start is not in race.yaml yet", r.Number)})
	}
	if absent(r.DidNotEnd) {
		all = append(all, absentList{fmt.Sprintf("run %d: who did not finish is not in race.yaml yet", r.Number)})
	}
	if absent(r.Reruns) {
		all = append(all, absentList{fmt.Sprintf("run %d: the re-runs are not in race.yaml yet", r.Number)})
	}
	return all
}

// row returns the row of a reading key and which of its entries it is, from the full stack.
func (m *moment) row(key string) (*stack.Row, *stack.Entry) {
	for i := range m.full.Rows {
		r := &m.full.Rows[i]
		for _, e := range []*stack.Entry{&r.BibSeen, &r.Code, &r.Gate} {
			if e.Key == key {
				return r, e
			}
		}
	}
	return nil, nil
}
