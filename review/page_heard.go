package review

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// heardView is the log of what came by radio or by word of mouth.
type heardView struct {
	frame
	Courses []heardCourse
	Groups  []sheetmodel.Group // empty: a number names one racer
	Lines   []heardLine
	Hidden  bool // some lines don't say what was heard yet
	Form    heardForm
	Wrong   string
}

type heardCourse struct {
	Name, Value string
	Here        bool
}

// heardForm is what was typed; on a fresh page only the time stands in it.
type heardForm struct{ At, Clock, From, Bib, Group, Gate, Words string }

// heardLine is one line of the log. Covered: bib and words aren't shown while a row of that run and course
// may still have to be typed unseen.
type heardLine struct {
	store.HeardEntry
	Course  string
	Covered bool
	Struck  string // why, and by whom; empty: it stands
}

const maxWords = 300

func (d *Desk) showHeard(w http.ResponseWriter, r *http.Request, s *session) error {
	return d.heard(w, r, s, http.StatusOK, "")
}

func (d *Desk) heard(w http.ResponseWriter, r *http.Request, s *session, status int, wrong string) error {
	m, f, err := d.view(r.Context(), s, "Heard", "heard")
	if err != nil {
		return err
	}
	now, err := sheetmodel.OfficialTime(d.opt.Now(), m.race)
	if err != nil {
		return err
	}
	v := heardView{frame: f, Wrong: wrong, Form: heardForm{Clock: now.Format("15:04")}}
	if wrong != "" { // what was typed stays
		post := r.PostFormValue
		v.Form = heardForm{post("at"), post("clock"), post("from"), post("bib"), post("group"), post("gate"), post("words")}
	}
	for _, run := range m.race.Runs {
		for _, c := range run.Courses {
			value := heardAt(run.Number, c.Course)
			v.Courses = append(v.Courses, heardCourse{courseWords(run.Number, c.Course), value, value == v.Form.At})
		}
	}
	if len(m.race.Groups) > 1 {
		v.Groups = m.race.Groups
	}
	v.Lines = m.heardLines(s)
	v.Hidden = slices.ContainsFunc(v.Lines, func(l heardLine) bool { return l.Covered })
	var told []string
	for _, l := range v.Lines {
		if l.NamesBib() && !l.Covered && look.Person(l.By) != look.Person(s.person) { // whoever wrote it knows it anyway
			told = append(told, m.heardOf(l.Run, l.HeardEntry.Course, l.Gate)...)
		}
	}
	if err := d.serve(r.Context(), s, "heard", 0, true, told...); err != nil {
		return err
	}
	return d.render(w, "heard", status, v)
}

func heardAt(run int, course string) string { return strconv.Itoa(run) + " " + course }

// heardLines lists the log, the latest first. In a run and on a course where something may still have to be
// typed unseen, no line says its bib or its words: one of them may be what stands in the ink, and if only
// some were hidden, that would tell which. Nor does it while a card may still come: its rows are typed by people who
// have read this. Until then whoever wrote a line is shown it, as they know it anyway.
func (m *moment) heardLines(s *session) []heardLine {
	struck := map[int64]store.HeardEntry{}
	for _, h := range m.full.Heard {
		if h.Strikes != 0 {
			struck[h.Strikes] = h
		}
	}
	var all []heardLine
	for _, h := range slices.Backward(m.full.Heard) {
		if h.Strikes != 0 {
			continue
		}
		l := heardLine{HeardEntry: h, Course: courseWords(h.Run, h.Course)}
		if s, ok := struck[h.ID]; ok {
			l.Struck = "struck by " + s.By
		}
		waits := slices.ContainsFunc(m.keysOf(h.Run, h.Course), func(key string) bool { return m.covered[key] })
		if waits || m.awaits(h.Run, h.Course) && look.Person(h.By) != look.Person(s.person) {
			l.Covered, l.Bib, l.Words = true, sheetmodel.Bib{}, ""
		}
		all = append(all, l)
	}
	return all
}

// awaits reports whether a card of a run and course isn't in and may still come.
func (m *moment) awaits(run int, course string) bool {
	return slices.ContainsFunc(m.full.Cards, func(c stack.Card) bool {
		return c.Key.Run == run && c.Key.Course == course && !c.In && c.GapReason == ""
	})
}

// postHeard writes one line into the log, or strikes one.
func (d *Desk) postHeard(w http.ResponseWriter, r *http.Request, s *session) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	if line := r.PostFormValue("strike"); line != "" {
		id, err := strconv.ParseInt(line, 10, 64)
		if err != nil {
			return fmt.Errorf("line %q: %w", line, store.ErrNotFound)
		}
		struck := slices.ContainsFunc(m.full.Heard, func(h store.HeardEntry) bool { return h.Strikes == id })
		if !struck { // sent twice, it is struck once
			if err := d.opt.Store.Hear(r.Context(), store.HeardEntry{Strikes: id, By: s.person}); err != nil {
				return err
			}
		}
		d.say(s, notice{Words: "The line is struck. It stays in the log and asks nobody any more.", Class: "settled"})
		return see(w, r, "/heard")
	}
	h, wrong := heardOf(m.race, r)
	if wrong != "" {
		return d.heard(w, r, s, http.StatusUnprocessableEntity, wrong)
	}
	h.By = s.person
	if err := d.opt.Store.Hear(r.Context(), h); err != nil {
		return err
	}
	words := "It is in the log."
	if h.Bib.Number == "" || h.Gate == "" {
		words = "It is in the log. Without bib and gate it asks nobody."
	}
	if h.NamesBib() {
		if h.Gate == "" {
			words += " As you know the bib, somebody else types what waits in that run."
		} else {
			words += " As you know the bib, somebody else types the rows at that gate, and those whose gate is not settled yet."
		}
	}
	d.say(s, notice{Words: words, Class: "settled"})
	return see(w, r, "/heard")
}

// heardOf reads the form. The second result says what is wrong, for whoever typed it.
func heardOf(race *sheetmodel.Race, r *http.Request) (store.HeardEntry, string) {
	post := func(name string) string { return strings.Join(strings.Fields(r.PostFormValue(name)), " ") }
	h := store.HeardEntry{From: cleanName(post("from")), Words: cleanText(r.PostFormValue("words"), maxForm)}
	var course *sheetmodel.CourseRun
	for i := range race.Runs {
		for j := range race.Runs[i].Courses {
			if c := &race.Runs[i].Courses[j]; heardAt(race.Runs[i].Number, c.Course) == r.PostFormValue("at") {
				h.Run, h.Course, course = race.Runs[i].Number, c.Course, c
			}
		}
	}
	if course == nil {
		return h, "Choose the run and the course it was said of."
	}
	if _, err := officialClock(race, post("clock")); err != nil {
		return h, "Write the time as 11:06, official time."
	}
	h.Clock = post("clock")
	if h.From == "" {
		return h, "Say whose voice it was: gate 27, finish, start, a coach."
	}
	if len([]rune(h.Words)) > maxWords {
		return h, fmt.Sprintf("That is too long: %d signs at most.", maxWords)
	}
	if text := post("gate"); text != "" {
		gates, err := racefolder.ParseGates(text, course.Gates)
		if err != nil {
			return h, sentence(err.Error())
		}
		if len(gates) != 1 {
			return h, "Write one gate; for another gate write another line."
		}
		h.Gate = gates[0]
	}
	h.Bib.Number = sheetmodel.CanonicalBib(post("bib"))
	if h.Bib.Number == "" && h.Words == "" || h.Gate == "" && h.Words == "" {
		return h, "Write bib and gate, or the words as they were said."
	}
	if len(h.Bib.Number) > 8 {
		return h, "Write the bib alone; the rest belongs to the words."
	}
	if h.Bib.Number == "" {
		return h, ""
	}
	var groups []string
	for _, st := range race.StartersWith(h.Bib.Number) {
		groups = append(groups, st.Group)
	}
	switch chosen := post("group"); {
	case len(groups) == 1 && (chosen == "" || chosen == groups[0]):
		h.Bib.Group = groups[0]
	case chosen != "" && slices.Contains(groups, chosen):
		h.Bib.Group = chosen
	case len(groups) == 0: // it may be garbled, or the start list isn't in yet: it is kept as it was heard
		if slices.ContainsFunc(race.Groups, func(g sheetmodel.Group) bool { return g.Name == chosen }) {
			h.Bib.Group = chosen
		}
	default:
		return h, "More than one racer may have that bib: choose the group that was said, or leave the bib empty and write the words."
	}
	return h, ""
}
