package review

import (
	"context"
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
	head    int64 // of the store, when it was looked at; guarded by Desk.mu
	number  int64 // counts up; who only looks at a page makes no new moment
	race    *sheetmodel.Race
	full    *stack.Stack
	result  rules.Result
	shown   *stack.Stack
	said    rules.Result
	covered map[string]bool
	waits   []stack.Wait
	open    int      // reasons why the draft is incomplete, as its pages count them
	viewer  bool     // made for somebody who is only to look
	done    []string // runs and courses of the draft to which nothing is open
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
	m := &moment{race: race, head: head}
	if m.full, err = stack.Load(ctx, race, d.opt.Store); err != nil {
		return nil, err
	}
	m.result = rules.Check(m.full.Facts())
	m.waits = m.full.Waiting(m.result)
	m.shown, m.said, m.covered = veil(m.full, m.result)
	if err := m.countOpen(); err != nil {
		return nil, err
	}
	d.mu.Lock()
	d.moments++
	m.number = d.moments
	d.latest = m
	d.mu.Unlock()
	return m, nil
}

// lookedAt returns the latest moment if it is one of this race and holds all that the store had at a head; else nil.
func (d *Desk) lookedAt(head int64, race *sheetmodel.Race) *moment {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.latest != nil && d.latest.head >= head && d.latest.race == race {
		return d.latest
	}
	return nil
}

// countOpen counts what the draft calls open. The draft also holds what the rules don't know of: runs
// without gates or judges, photos that nobody has read.
func (m *moment) countOpen() error {
	list, err := draft.New(m.full, m.result, draft.Options{})
	if err != nil {
		return err
	}
	known := map[string]bool{}
	for _, s := range list.Sections {
		at := courseWords(s.Run, s.Course)
		known[at] = true
		m.open += len(s.Incomplete)
		if len(s.Incomplete) == 0 {
			m.done = append(m.done, at)
		}
	}
	for _, g := range m.result.Incomplete {
		if !known[courseWords(g.Run, g.Course)] {
			m.open++
		}
	}
	return nil
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
}

// todos lists what waits for a session, what it can do first.
func (d *Desk) todos(m *moment, s *session) []todo {
	spent := m.spent(s)
	waits := slices.DeleteFunc(slices.Clone(m.waits), func(w stack.Wait) bool {
		return m.photosDiffer(w.Row) // first somebody says which photo counts
	})
	d.mu.Lock() // everybody waits for it: what can be found out before, is
	defer d.mu.Unlock()
	var all []todo
	for _, w := range waits {
		t := todo{Wait: w, later: s.later[w.Entry.Key], held: d.heldByOther(s, w.Entry.Key)}
		switch w.Need {
		case look.NeedNothing:
			continue // a question about its photos, on its own page
		case look.NeedJudge:
			t.task = taskJudge
			if d.told.knows(s, w.Entry.Key) {
				t.task = taskOther // what they type of the judge's word is a nod
			}
		case look.NeedEntry, look.NeedSecondPerson:
			t.task = taskType
			if spent[w.Entry.Key] || d.told.knows(s, w.Entry.Key) {
				t.task = taskOther
			}
		}
		all = append(all, t)
	}
	rank := map[task]int{taskType: 0, taskJudge: 1, taskOther: 2}
	slices.SortStableFunc(all, func(a, b todo) int {
		if a.later != b.later {
			return a.later - b.later // what was left first comes back first: each is seen once a round
		}
		return rank[a.task] - rank[b.task]
	})
	return all
}

// photosDiffer reports whether two photos show the row differently and nobody has said which counts.
func (m *moment) photosDiffer(ref sheetmodel.RowRef) bool {
	row := m.full.Row(ref)
	if row == nil {
		return false
	}
	printed := m.full.Cards[row.Card].Printed
	return slices.ContainsFunc(m.photoQuestions(), func(q photoQuestion) bool {
		return q.Card == printed && (q.Side == sheetmodel.Front && slices.Contains(q.Rows, ref.Row) || q.Side == sheetmodel.Back && row.Row.Panel != "")
	})
}

// left counts what is left to do, for the sentence on every page.
type left struct {
	Type, Judge, Other int // entries, for this person
	Questions          int
	Missing            int // cards
	Unbound            int
	Refused            int // photos
	Unread             int
	Held               int // of the entries, those that somebody else is at now
}

// Entries is everything that can be typed or asked.
func (l left) Entries() int { return l.Type + l.Judge + l.Other }

// Nothing reports whether nothing is left for anybody.
func (l left) Nothing() bool { return l.Entries()+l.Questions+l.Missing+l.Unbound+l.Unread == 0 }

func (d *Desk) left(m *moment, todos []todo) left {
	var l left
	for _, t := range todos {
		if t.held && t.task != taskOther {
			l.Held++
		}
		switch t.task {
		case taskType:
			l.Type++
		case taskJudge:
			l.Judge++
		case taskOther:
			l.Other++
		}
	}
	l.Questions = len(m.questions()) + len(m.photoQuestions())
	for _, c := range m.full.Cards {
		if !c.In && c.GapReason == "" {
			l.Missing++
		}
		if c.In && len(c.Gates) == 0 {
			l.Unbound++
		}
	}
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
