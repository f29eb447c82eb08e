package review

import (
	"net/http"
	"slices"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

type stackView struct {
	frame
	Courses []courseView
	Refused []store.Photo
	Further []store.Photo // read, but with a further card in them that is not used
	Unread  int
	Foreign []store.Sheet
	Photos  []photoQuestion
}

// courseView is one course in one run, from the start down.
type courseView struct {
	Name    string
	In, All int
	Strip   *strip
	Lines   []courseLine
	Loose   bool // cards that are bound to no run
}

// courseLine is a card, or a stretch that nobody's card covers.
type courseLine struct {
	Hole  string // gates nobody covers; empty: a card
	Card  *cardView
	Again string // gates that the card above watches too
}

type cardView struct {
	Path        string // of its page
	Words       string
	Place       string
	Judge       string
	Phone       string
	Gates       string
	GatesKnown  bool
	In          bool
	Front, Back bool
	Paper       bool
	Reason      string // why it is missing
	Rows        int
	Waits       int
}

func (d *Desk) showStack(w http.ResponseWriter, r *http.Request, s *session) error {
	m, f, err := d.view(r.Context(), s, "The stack", "stack")
	if err != nil {
		return err
	}
	v := stackView{frame: f, Unread: f.Left.Unread, Foreign: m.shown.Foreign, Photos: m.photoQuestions()}
	for _, p := range m.shown.Photos {
		if p.Fate == store.FateRefused {
			v.Refused = append(v.Refused, p)
		}
		if len(p.Further) > 0 {
			v.Further = append(v.Further, p)
		}
	}
	v.Courses = m.courses()
	return d.render(w, "stack", http.StatusOK, v)
}

// courses lays the cards out by run and course, from the start down.
func (m *moment) courses() []courseView {
	waits := map[sheetmodel.CardKey]int{}
	for _, w := range m.waits {
		waits[w.Row.CardKey]++
	}
	rows := map[sheetmodel.CardKey]int{}
	for _, r := range m.full.Rows {
		if len(r.Nothing) == 0 {
			rows[r.Ref.CardKey]++
		}
	}
	var all []courseView
	at := map[[2]any]int{}
	for i := range m.full.Cards {
		c := &m.full.Cards[i]
		key := [2]any{c.Key.Run, c.Key.Course}
		n, ok := at[key]
		if !ok {
			n = len(all)
			at[key] = n
			all = append(all, courseView{Name: courseWords(c.Key.Run, c.Key.Course), Loose: c.Key.Run == 0})
		}
		v := &all[n]
		v.All++
		if c.In {
			v.In++
		}
		place := m.place(c)
		v.Lines = append(v.Lines, courseLine{Card: &cardView{
			Path: "/card/" + cardPath(c.Printed), Words: cardWords(c.Key, c.Spare), Place: place.Name, Judge: c.Judge, Phone: c.Phone,
			Gates: gateWords(m.gatesOf(c)), GatesKnown: len(m.gatesOf(c)) > 0, In: c.In, Front: c.Front != nil, Back: c.Back != nil, Paper: c.Paper != nil,
			Reason: c.GapReason, Rows: rows[c.Key], Waits: waits[c.Key],
		}})
	}
	for key, n := range at {
		run := m.race.Run(key[0].(int))
		if run == nil {
			continue
		}
		if course := run.Course(key[1].(string)); course != nil && len(course.Gates) > 1 {
			m.cover(&all[n], course)
		}
	}
	slices.SortStableFunc(all, func(a, b courseView) int {
		switch {
		case a.Loose && !b.Loose:
			return 1
		case b.Loose && !a.Loose:
			return -1
		}
		return 0
	})
	return all
}

// cover draws who watches which gate, and puts the stretches that nobody watches between the cards.
func (m *moment) cover(v *courseView, course *sheetmodel.CourseRun) {
	type span struct{ from, to int }
	watched := make([]int, len(course.Gates))
	st := newStrip(course.Gates)
	ends := map[int]span{} // by line
	for i, line := range v.Lines {
		c := m.full.Cards[slices.IndexFunc(m.full.Cards, func(c stack.Card) bool { return "/card/"+cardPath(c.Printed) == line.Card.Path })]
		from, to := len(course.Gates), -1
		for _, g := range m.gatesOf(&c) {
			if k := course.GateIndex(g); k >= 0 {
				from, to = min(from, k), max(to, k)
				watched[k]++
			}
		}
		if to < 0 {
			continue
		}
		ends[i] = span{from, to}
		st.bar(from, to, c.Key.Card, c.In, c.GapReason != "")
	}
	var lines []courseLine
	next := 0 // first gate nobody was seen to watch yet
	hole := func(upTo int) {
		for from := next; from < upTo; from++ {
			if watched[from] > 0 {
				continue
			}
			to := from
			for to+1 < upTo && watched[to+1] == 0 {
				to++
			}
			lines = append(lines, courseLine{Hole: gateWords(course.Gates[from : to+1])})
			st.hole(from, to)
			from = to
		}
		next = max(next, upTo)
	}
	order := make([]int, len(v.Lines))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, okX := ends[a]
		y, okY := ends[b]
		switch {
		case okX && okY:
			return x.from - y.from
		case okX:
			return -1
		case okY:
			return 1
		}
		return 0
	})
	lastTo := -1
	for _, i := range order {
		line := v.Lines[i]
		e, ok := ends[i]
		if !ok {
			hole(len(course.Gates))
			lines = append(lines, line)
			continue
		}
		hole(e.from)
		if e.from <= lastTo {
			line.Again = gateWords(course.Gates[e.from : min(lastTo, e.to)+1])
		}
		lastTo = max(lastTo, e.to)
		next = max(next, e.to+1)
		lines = append(lines, line)
	}
	hole(len(course.Gates))
	st.doubles(watched)
	v.Lines, v.Strip = lines, st
}

// gatesOf returns the gates a card watches, in the order of the course.
func (m *moment) gatesOf(c *stack.Card) []string {
	if len(c.Gates) > 0 {
		return c.Gates
	}
	if !c.Spare {
		return m.place(c).Gates
	}
	return nil
}

// place returns what the placing list says of a card.
func (m *moment) place(c *stack.Card) sheetmodel.Place {
	run := m.race.Run(c.Key.Run)
	if run == nil {
		return sheetmodel.Place{}
	}
	course := run.Course(c.Key.Course)
	if course == nil {
		return sheetmodel.Place{}
	}
	for _, p := range course.Places {
		if p.Card == c.Key.Card {
			return p
		}
	}
	return sheetmodel.Place{}
}

// photoQuestion is a question about two photos of one side.
type photoQuestion struct {
	stack.PhotoQuestion
	Words string
}

func (m *moment) photoQuestions() []photoQuestion {
	var all []photoQuestion
	for _, q := range m.full.Questions {
		if !q.Answered {
			all = append(all, photoQuestion{q, cardWords(q.Card, q.Card.Run == 0)})
		}
	}
	return all
}
