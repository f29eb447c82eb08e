package racefolder

import (
	"fmt"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"gatefold/sheetmodel"
)

// runCount is the number of runs of a race. Run 2 is always there, with nothing known of it:
// its cards are printed before its gates exist.
const runCount = 2

// FirstSpare is the lowest number of a spare. Cards of courses lie below, so that no number on paper
// stands for two cards of a run.
const FirstSpare = 201

var placeKeys = []string{"card", "cards", "name", "gates", "judge", "phone", "relief"}

// notKnown is how a person writes that something will be known later.
func notKnown(text string) bool {
	return strings.EqualFold(strings.Join(strings.Fields(strings.ReplaceAll(text, "_", " ")), " "), string(sheetmodel.ListUnknown))
}

// runs fills gates and places of both runs; lists wait for the start list, see lists.go.
func (f *raceFile) runs() {
	for n := 1; n <= runCount; n++ {
		run := sheetmodel.Run{Number: n}
		for _, c := range f.race.Courses {
			run.Courses = append(run.Courses, sheetmodel.CourseRun{Course: c})
		}
		f.race.Runs = append(f.race.Runs, run)
	}
	seen := map[int]int{}
	for i, n := range f.top.nodes("runs") {
		m := mappingOf(f.p, n, "runs, entry "+strconv.Itoa(i+1), "run", "courses", "did_not_start", "did_not_finish", "re_runs",
			"late_starts", "may_start", "conditional_starts", "exchanged_bibs", "heard")
		if m == nil {
			continue
		}
		number, err := strconv.Atoi(m.need("run", "1"))
		if err != nil || number < 1 || number > runCount {
			if m.has("run") {
				m.fail("run", "run %q is neither 1 nor 2; correct it", shorten(m.text("run")))
			}
			continue
		}
		if seen[number] > 0 {
			m.fail("run", "run %d is written twice, first on line %d; keep one", number, seen[number])
			continue
		}
		seen[number] = m.line("run")
		m.where = fmt.Sprintf("run %d: ", number)
		f.runCourses(m, f.race.Run(number))
	}
}

func (f *raceFile) runCourses(m *mapping, run *sheetmodel.Run) {
	if notKnown(scalarOf(m, "courses")) {
		return
	}
	seen := map[string]int{}
	cardLine := map[int]int{}
	for i, n := range m.nodes("courses") {
		where := fmt.Sprintf("run %d, courses, entry %d", run.Number, i+1)
		c := mappingOf(f.p, n, where, "course", "gates", "places", "gate_changes")
		if c == nil {
			continue
		}
		written := c.need("course", "Blue")
		if written == "" {
			continue
		}
		name := sameWord(written, f.race.Courses)
		if name == "" {
			f.p.follows(f.unsureCourses, c.line("course"), "%scourse %q is not under courses%s", c.where, shorten(written), didYouMean(written, f.race.Courses))
			continue
		}
		if seen[name] > 0 {
			c.fail("course", "course %s is written twice, first on line %d; keep one", name, seen[name])
			continue
		}
		seen[name] = c.line("course")
		c.where = f.whereCourse(run.Number, name) + ": "
		f.courseRun(c, run.Number, run.Course(name), cardLine)
	}
}

// whereCourse names run and course; the course is left out where there is only one.
func (f *raceFile) whereCourse(run int, course string) string {
	if len(f.race.Courses) == 1 {
		return fmt.Sprintf("run %d", run)
	}
	return fmt.Sprintf("run %d, %s", run, course)
}

// courseRun reads gates and places of one course in one run. cardLine holds the lines of the run's cards
// so far: no number on paper stands for two cards of a run.
func (f *raceFile) courseRun(m *mapping, run int, cr *sheetmodel.CourseRun, cardLine map[int]int) {
	gatesKnown := true
	if !notKnown(scalarOf(m, "gates")) {
		gates, err := courseGates(texts(m.items("gates")))
		if err != nil {
			m.fail("gates", "%s", err)
			gatesKnown = false
		}
		cr.Gates = gates
	}
	if gatesKnown {
		cr.Changes = m.gateChanges(cr.Gates)
	}
	if notKnown(scalarOf(m, "places")) {
		return
	}
	for i, n := range m.nodes("places") {
		where := fmt.Sprintf("%s, place %d", f.whereCourse(run, cr.Course), i+1)
		for _, p := range f.place(n, where, cr.Gates, gatesKnown) {
			if line := cardLine[p.Card]; line > 0 {
				f.p.at(n.Line, "%s: card %d already belongs to the place on line %d; each card has one place, and numbers run on over the courses of a run",
					where, p.Card, line)
				continue
			}
			cardLine[p.Card] = n.Line
			cr.Places = append(cr.Places, p)
		}
	}
}

// place reads one entry of the placing list; a judge with several cards makes several places.
func (f *raceFile) place(n *yaml.Node, where string, course []string, gatesKnown bool) []sheetmodel.Place {
	m := mappingOf(f.p, n, where, placeKeys...)
	if m == nil {
		return nil
	}
	p := sheetmodel.Place{Name: m.text("name"), Judge: m.text("judge"), Phone: m.text("phone"), Relief: m.relief()}
	if !notKnown(scalarOf(m, "gates")) && gatesKnown {
		gates, err := placeGates(texts(m.items("gates")), course)
		if err != nil {
			m.fail("gates", "%s", err)
		}
		p.Gates = gates
	}
	var places []sheetmodel.Place
	for _, card := range m.cards() {
		q := p
		q.Card = card
		places = append(places, q)
	}
	return places
}

func (m *mapping) cards() []int {
	key := "card"
	switch {
	case m.has("card") && m.has("cards"):
		m.fail("cards", "both card and cards are written; keep one")
		return nil
	case m.has("cards"):
		key = "cards"
	case !m.has("card"):
		m.p.at(m.node.Line, "%scard is missing; write the number printed on the judge's card, card: 4", m.where)
		return nil
	}
	var cards []int
	for _, it := range m.items(key) {
		from, to, isRange := strings.Cut(it.text, "-")
		a, errA := strconv.Atoi(strings.TrimSpace(from))
		b := a
		var errB error
		if isRange {
			b, errB = strconv.Atoi(strings.TrimSpace(to))
		}
		if errA != nil || errB != nil || a < 1 || b < a || b-a > 99 {
			m.p.at(it.line, "%scard %q is not a card number; write the number printed on the card, as in 4 or 4, 5", m.where, shorten(it.text))
			continue
		}
		if b >= FirstSpare {
			m.p.at(it.line, "%scard %s is a spare: they are numbered from %d; leave it out of places; its judge rings run and course "+
				"and writes the gates on it, and a person enters them on its page", m.where, shorten(it.text), FirstSpare)
			continue
		}
		for c := a; c <= b; c++ {
			cards = append(cards, c)
		}
	}
	return cards
}

// scalarOf returns the text of a key if it is a single value, else nothing.
func scalarOf(m *mapping, key string) string {
	if n := m.vals[key]; n != nil && n.Kind == yaml.ScalarNode && !isNull(n) {
		return n.Value
	}
	return ""
}

func texts(items []item) []string {
	list := make([]string, len(items))
	for i, it := range items {
		list[i] = it.text
	}
	return list
}
