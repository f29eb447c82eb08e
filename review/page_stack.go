package review

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

type stackView struct {
	frame
	Courses []courseView
	Hills   []courseView // those with a drawing, all runs of a course one after the other
	Empty   []emptyView  // cards without rows to be looked at
	Backs   []backView   // that are not in
	Refused []store.Photo
	Further []store.Photo // read, but with a further card in them that is not used
	Unread  int
	Foreign []store.Sheet
	Unnamed int // sides of which nobody knows the card
	Photos  []photoQuestion
	Spot    int  // bibs of the spot check that this person can type unseen now
	Plain   bool // for somebody who is only to look: no links to what is settled
}

// courseView is one course in one run, from the start down.
type courseView struct {
	Name    string
	ID      string // of its section
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
	OneSided    bool   // there is no back to photograph
	BackSeen    string // who saw that no fault is drawn on a back without a photo
	BackWas     string // who said something of it before another photo of the front came in
	BackReason  string // why it will not come
	BackAgainst int    // the row that names a drawing, or may, though somebody saw none
	Paper       bool
	Reason      string // why it is missing
	Rows        int
	Waits       int      // entries
	WaitRows    int      // rows that they are of
	First       string   // page of the first that waits
	Questions   int      // open questions that name the card
	Ask         string   // where the first of them stands
	Doubles     []string // sides that are in one photo twice, in words
	Flaws       []flawView
}

func (d *Desk) showStack(w http.ResponseWriter, r *http.Request, s *session) error {
	m, f, err := d.view(r.Context(), s, "The stack", "stack")
	if err != nil {
		return err
	}
	v := stackView{frame: f, Unread: f.Left.Unread, Foreign: m.shown.Foreign, Unnamed: m.full.UnnamedSides(), Photos: m.photoQuestions(), Plain: m.viewer}
	for _, p := range m.shown.Photos {
		if p.Fate == store.FateRefused {
			v.Refused = append(v.Refused, p)
		}
		if len(p.Further) > 0 {
			v.Further = append(v.Further, p)
		}
	}
	v.Courses = m.courses()
	for i := range v.Courses {
		v.Courses[i].ID = fmt.Sprintf("course-%d", i+1)
		if v.Courses[i].Strip != nil {
			v.Courses[i].Strip.ID = v.Courses[i].ID
			v.Hills = append(v.Hills, v.Courses[i])
		}
	}
	if !m.viewer {
		v.Empty = d.empties(m)
		v.Backs = m.backs(v.Empty)
		if spot := d.spotView(m, s); spot != nil {
			v.Spot = spot.Mine
		}
	}
	return d.render(w, "stack", http.StatusOK, v)
}

// courses lays the cards out by run and course, from the start down.
func (m *moment) courses() []courseView {
	waits, waitRows := map[sheetmodel.CardKey]int{}, map[sheetmodel.CardKey]int{}
	seen := map[sheetmodel.RowRef]bool{}
	first := map[sheetmodel.CardKey]string{}
	for _, w := range m.waits {
		if w.Need == look.NeedNothing || m.photosDiffer(w.Row) {
			continue // a question, counted as one
		}
		waits[w.Row.CardKey]++
		if !seen[w.Row] {
			seen[w.Row] = true
			waitRows[w.Row.CardKey]++
		}
		if first[w.Row.CardKey] == "" {
			first[w.Row.CardKey] = entryPath(w.Entry.Key)
		}
	}
	asked := m.askedOf()
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
			Gates: gateWords(m.gatesOf(c), m.gatesIn(c.Key.Run, c.Key.Course)), GatesKnown: len(m.gatesOf(c)) > 0, In: c.In, Front: c.Front != nil, Back: c.Back != nil, OneSided: c.OneSided(), Paper: c.Paper != nil,
			BackSeen: m.backSeen(c), BackWas: m.backWas(c), BackReason: c.BackReason, BackAgainst: c.BackAgainst, Reason: c.GapReason, Rows: rows[c.Key], Waits: waits[c.Key], WaitRows: waitRows[c.Key], First: first[c.Key],
			Questions: len(asked[c.Printed]), Ask: "/questions", Doubles: m.doubles(c), Flaws: flawsOf(c),
		}})
		if keys := asked[c.Printed]; len(keys) > 0 {
			v.Lines[len(v.Lines)-1].Card.Ask += "#" + url.PathEscape(keys[0])
		}
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

// askedOf returns the keys of the open questions about each card, by what is printed on it.
func (m *moment) askedOf() map[sheetmodel.CardKey][]string {
	asked := map[sheetmodel.CardKey][]string{}
	add := func(card sheetmodel.CardKey, key string) {
		if !slices.Contains(asked[card], key) {
			asked[card] = append(asked[card], key)
		}
	}
	for _, f := range m.questions() {
		keys := []sheetmodel.CardKey{}
		if f.Card != nil {
			keys = append(keys, *f.Card)
		}
		for _, ref := range f.Rows {
			keys = append(keys, ref.CardKey)
		}
		for _, k := range keys {
			if c := m.full.Card(k); c != nil {
				add(c.Printed, f.Question.Key)
			}
		}
	}
	for _, q := range m.photoQuestions() {
		add(q.Card, q.Key)
	}
	return asked
}

// doubles names the sides of a card that one photo shows twice: two papers with one number, or a
// picture of a picture.
func (m *moment) doubles(c *stack.Card) []string {
	var all []string
	sheets := append([]*store.Sheet{c.Front, c.Back}, c.Other...)
	for i, s := range sheets {
		if s == nil {
			continue
		}
		for _, o := range sheets[i+1:] {
			words := fmt.Sprintf("%s twice in photo %s", s.Side, m.sentName(s.Photo))
			if o != nil && o.Photo == s.Photo && o.Side == s.Side && !slices.Contains(all, words) {
				all = append(all, words)
			}
		}
	}
	return all
}

// flawView is what the photo of a side that counts lacks, and what would help.
type flawView struct{ Words, Remedy string }

// flawsOf says why entries of a card are doubtful whatever is read in them: a better photo may spare asking.
func flawsOf(c *stack.Card) []flawView {
	var all []flawView
	for _, s := range []*store.Sheet{c.Front, c.Back} {
		if s == nil {
			continue
		}
		for _, f := range s.Quality.Flaws {
			all = append(all, flawView{fmt.Sprintf("%s: %s", s.Side, f.Detail), f.Remedy})
		}
	}
	return all
}

// sentName is what a photo was called by its sender.
func (m *moment) sentName(id string) string {
	i := slices.IndexFunc(m.full.Photos, func(p store.Photo) bool { return p.ID == id })
	if i < 0 {
		return "unknown"
	}
	return m.full.Photos[i].Sent
}

// cover draws who watches which gate, and puts the stretches that nobody watches between the cards.
func (m *moment) cover(v *courseView, course *sheetmodel.CourseRun) {
	watched := make([]int, len(course.Gates))
	st := newStrip(course.Gates)
	watches := map[int][]int{} // by line, from the start down
	for i, line := range v.Lines {
		c := m.full.Cards[slices.IndexFunc(m.full.Cards, func(c stack.Card) bool { return "/card/"+cardPath(c.Printed) == line.Card.Path })]
		var gates []int
		for _, g := range m.gatesOf(&c) {
			if k := course.GateIndex(g); k >= 0 {
				gates = append(gates, k)
				watched[k]++
			}
		}
		if len(gates) == 0 {
			continue
		}
		slices.Sort(gates)
		watches[i] = gates
		for from := 0; from < len(gates); { // a card may watch several stretches
			to := from
			for to+1 < len(gates) && gates[to+1] <= gates[to]+1 {
				to++
			}
			st.bar(gates[from], gates[to], c.Key.Card, c.In, c.GapReason != "")
			from = to + 1
		}
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
			lines = append(lines, courseLine{Hole: gateWords(course.Gates[from:to+1], course.Gates)})
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
		x, y := watches[a], watches[b]
		switch {
		case len(x) > 0 && len(y) > 0:
			return x[0] - y[0]
		case len(x) > 0:
			return -1
		case len(y) > 0:
			return 1
		}
		return 0
	})
	above := make([]bool, len(course.Gates))
	for _, i := range order {
		line := v.Lines[i]
		gates := watches[i]
		if len(gates) == 0 {
			hole(len(course.Gates))
			lines = append(lines, line)
			continue
		}
		hole(gates[0])
		var again []string
		for _, k := range gates {
			if above[k] {
				again = append(again, course.Gates[k])
			}
			above[k] = true
		}
		if len(again) > 0 {
			line.Again = gateWords(again, course.Gates)
		}
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
	return m.placeOf(c.Key)
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
