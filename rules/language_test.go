package rules_test

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// The case language. A case is a check with lines; what isn't said is as in the invented race.
//
//	race key=value …              settings and lists, see settings below
//	starter bib=8 group=girls     a further racer on Blue, or course=…
//	on run=2 course=Blue          the lines below are for this run and course (at first: run 1, Blue)
//	card A key=value …            a card by its place's name or by its number; the others are in, with 0 rows
//	row A/1 key=value …           a row with ink: bib, two looks, code F, panel A drawn, unless said
//	jury bib=14 key=value …  what was posted (gate:code) and decided (upheld=12:31, overruled=12:31)
//	answer KEY = VALUE            a person's answer to a question; VALUE by NAME says whose
//
// A value with blanks is put in quotes.
type script struct {
	race    sheetmodel.Race
	cards   map[sheetmodel.CardKey]*rules.Card
	rows    []rules.Row
	jury    []rules.JuryLine
	answers map[string]string

	answeredBy map[string]string
	counted    map[sheetmodel.CardKey]bool // the case gives the number of rows itself
	run        int
	course     string
}

// parse reads the lines of one check.
func parse(t *testing.T, text string) rules.Facts {
	t.Helper()
	s := &script{
		race: inventedRace(), cards: map[sheetmodel.CardKey]*rules.Card{}, answers: map[string]string{},
		answeredBy: map[string]string{},
		counted:    map[sheetmodel.CardKey]bool{}, run: 1, course: "Blue",
	}
	for line := range strings.SplitSeq(text, "\n") {
		if line = strings.TrimSpace(line); line != "" {
			require.NoError(t, s.line(line), "line %q", line)
		}
	}
	return s.facts()
}

func (s *script) line(line string) error {
	words := words(line)
	verb, rest := words[0], words[1:]
	switch verb {
	case "race":
		return each(rest, s.setting)
	case "starter":
		st := sheetmodel.Starter{Course: "Blue"}
		if err := each(rest, func(k, v string) error {
			target := map[string]*string{"bib": &st.Number, "group": &st.Group, "course": &st.Course}[k]
			return set(target, k, v)
		}); err != nil {
			return err
		}
		s.race.Starters = append(s.race.Starters, st)
		return nil
	case "on":
		if err := each(rest, func(k, v string) error {
			if k == "run" {
				return atoi(&s.run, v)
			}
			return set(map[string]*string{"course": &s.course}[k], k, v)
		}); err != nil {
			return err
		}
		if cr := s.courseRun(); s.run == 2 && s.course == "Blue" && cr.Places == nil {
			cr.Places = run2Places()
		}
		return nil
	case "card":
		return s.card(rest)
	case "row":
		return s.row(rest)
	case "jury":
		j := rules.JuryLine{Run: s.run, Course: s.course}
		if err := each(rest, func(k, v string) error {
			switch k {
			case "posted":
				gate, code, _ := strings.Cut(v, ":")
				j.Posted, j.PostedGate, j.PostedCode = true, gate, code
			case "upheld", "overruled":
				j.Decided, j.Overruled, j.At = true, k == "overruled", v
			case "on":
				j.DecidedGate, j.DecidedCode, _ = strings.Cut(v, ":")
			case "late":
				j.Late = true
			default:
				return set(map[string]*string{"bib": &j.Bib, "group": &j.Group}[k], k, v)
			}
			return nil
		}); err != nil {
			return err
		}
		s.jury = append(s.jury, j)
		return nil
	case "answer":
		key, value, ok := strings.Cut(strings.TrimSpace(strings.TrimPrefix(line, "answer")), " = ")
		if !ok {
			return fmt.Errorf("an answer is: answer KEY = VALUE")
		}
		value, by, _ := strings.Cut(value, " by ")
		s.answers[key], s.answeredBy[key] = value, by
		return nil
	}
	return fmt.Errorf("no such word: %s", verb)
}

// setting is one key of a race line.
func (s *script) setting(key, value string) error {
	run := s.race.Run(s.run)
	switch key {
	case "dns":
		run.DidNotStart = listOf(value)
	case "dnf":
		run.DidNotEnd = listOf(value)
	case "re-runs":
		run.Reruns = listOf(value)
	case "forerunners":
		s.race.Forerunners = listOf(value)
	case "lost-ski":
		s.race.Rules.LostSkiBasis = "local rule 1"
		s.race.Rules.LostSki = map[string]sheetmodel.LostSki{"never": sheetmodel.LostSkiNever, "out": sheetmodel.LostSkiOut}[value]
		if n, ok := strings.CutPrefix(value, "from-"); ok {
			s.race.Rules.LostSki = sheetmodel.LostSkiFrom
			return atoi(&s.race.Rules.LostSkiFrom, n)
		}
	case "fault-then-dnf":
		s.race.Rules.FaultThenDNF = value
	case "late-starts":
		run.LateStarts = listOf(value)
	case "may-start":
		run.MayStart = listOf(value)
	case "conditional":
		run.Conditional = listOf(value)
	case "exchanged":
		a, b, _ := strings.Cut(value, "+")
		run.Exchanged = append(run.Exchanged, [2]sheetmodel.Bib{{Number: a}, {Number: b}})
	case "heard":
		bib, gate, _ := strings.Cut(value, "@")
		run.Heard = append(run.Heard, sheetmodel.Heard{Bib: sheetmodel.Bib{Number: bib}, Course: s.course, Gate: gate, At: "10:15"})
	case "gate-added", "gate-removed", "gate-renumbered":
		gate, at, _ := strings.Cut(value, "@")
		was, gate, renumbered := strings.Cut(gate, ">")
		if !renumbered {
			was, gate = "", was
		}
		s.courseRun().Changes = append(s.courseRun().Changes, sheetmodel.GateChange{At: at, Gate: gate, Was: was, What: strings.TrimPrefix(key, "gate-")})
	case "relief":
		place, at, _ := strings.Cut(value, "@")
		for i, p := range s.courseRun().Places {
			if p.Name == place {
				s.courseRun().Places[i].Relief = append(p.Relief, sheetmodel.Relief{At: at})
			}
		}
	case "discipline":
		s.race.Discipline = value
	case "climb-back":
		s.race.Rules.ClimbBack, s.race.Rules.ClimbBackBasis = sheetmodel.ClimbBack(value), "local rule 3"
	case "overtaken":
		s.race.Rules.Overtaken = value == "penalised"
	case "small-cards":
		s.race.Rules.SmallCards = value == "yes"
	case "one-run":
		s.race.Runs = s.race.Runs[:1]
	case "run-2-basis":
		s.race.Rules.Run2Basis = value
	case "released-by":
		s.race.Rules.ReleasedBy = value
	case "no-article":
		for i, c := range s.race.Codes.Codes {
			if c.Code == value {
				s.race.Codes.Codes = slices.Clone(s.race.Codes.Codes)
				s.race.Codes.Codes[i].Basis = "as always"
			}
		}
	case "run-2":
		s.race.Rules.Run2AfterDSQ = map[string]sheetmodel.Run2{"all": sheetmodel.Run2Yes, "practice": sheetmodel.Run2Practice}[value]
	case "drawing":
		s.race.Rules.DrawingDemanded = value == "demanded"
	case "start-list":
		s.race.Starters = nil
	case "gates":
		s.courseRun().Gates = nil
		if value != "unknown" {
			s.courseRun().Gates = labels(value)
		}
	case "places":
		s.courseRun().Places = nil
		if value != "none" {
			s.courseRun().Places = placesOf(strings.Fields(value)...)
		}
	default:
		return fmt.Errorf("no such setting: %s", key)
	}
	return nil
}

func (s *script) courseRun() *sheetmodel.CourseRun {
	if r := s.race.Run(s.run); r != nil && r.Course(s.course) != nil {
		return r.Course(s.course)
	}
	return &sheetmodel.CourseRun{}
}

// at returns the card with a place's name or a number, made at first use.
func (s *script) at(name string) (*rules.Card, error) {
	number, err := strconv.Atoi(name)
	for _, p := range s.courseRun().Places {
		if p.Name == name {
			number, err = p.Card, nil
		}
	}
	if err != nil {
		return nil, fmt.Errorf("no card %s", name)
	}
	key := sheetmodel.CardKey{Run: s.run, Course: s.course, Card: number}
	if s.cards[key] == nil {
		s.cards[key] = &rules.Card{Key: key, In: true}
	}
	return s.cards[key], nil
}

func (s *script) card(words []string) error {
	c, err := s.at(words[0])
	if err != nil {
		return err
	}
	return each(words[1:], func(k, v string) error {
		switch k {
		case "missing":
			c.In = false
		case "back-only":
			c.In, c.BackOnly = false, true
		case "no-back":
			c.BackState = rules.BackMissing
		case "back-against":
			return atoi(&c.BackAgainst, v)
		case "back-reason":
			c.BackState, c.BackReason = rules.BackClosed, v
		case "spare":
			c.Spare = true
		case "gates":
			c.Gates = labels(v)
		case "header":
			c.HeaderFrom, c.HeaderTo, _ = strings.Cut(v, "-")
		case "of":
			at, total, _ := strings.Cut(v, "-")
			c.CardOf, c.CardTotal = 0, 0
			if err := atoi(&c.CardOf, at); err != nil {
				return err
			}
			return atoi(&c.CardTotal, total)
		case "strips":
			for part := range strings.SplitSeq(v, ",") {
				panel, n, _ := strings.Cut(part, ":")
				strip := rules.Strip{Panel: panel}
				if err := atoi(&strip.Bibs, n); err != nil {
					return err
				}
				c.Strips = append(c.Strips, strip)
			}
		case "no-drawings":
			c.NoDrawings = true
		case "happened":
			c.Happened = new(bool)
			*c.Happened = v == "yes"
		case "passed", "listed", "untold":
			into := map[string]*[]sheetmodel.Bib{"passed": &c.Passed, "listed": &c.Listed, "untold": &c.Untold}[k]
			*into = []sheetmodel.Bib{}
			for _, n := range labels(v) {
				group, number, grouped := strings.Cut(n, ":")
				if !grouped {
					group, number = "", n
				}
				*into = append(*into, sheetmodel.Bib{Group: group, Number: number})
			}
		case "rows":
			s.counted[c.Key] = true
			if v == "unwritten" {
				return nil
			}
			c.RowCount = new(int)
			return atoi(c.RowCount, v)
		default:
			return set(map[string]*string{"ringed": &c.Ringed, "group": &c.Group, "reason": &c.GapReason, "judge": &c.Judge}[k], k, v)
		}
		return nil
	})
}

func (s *script) row(words []string) error {
	name, number, _ := strings.Cut(words[0], "/")
	c, err := s.at(name)
	if err != nil {
		return err
	}
	w := rules.Row{
		Ref: sheetmodel.RowRef{CardKey: c.Key}, BibState: sheetmodel.BibTwoLooks, Code: "F", Panel: "A", Drawn: true,
		CodeSure: true, GateSure: true, PanelSure: true,
	}
	if err := atoi(&w.Ref.Row, number); err != nil {
		return err
	}
	if err := each(words[1:], func(k, v string) error {
		switch k {
		case "looks":
			w.BibState = sheetmodel.BibState(v)
		case "doubt":
			w.CodeSure = w.CodeSure && !strings.Contains(v, "code")
			w.GateSure = w.GateSure && !strings.Contains(v, "gate")
			w.PanelSure = w.PanelSure && !strings.Contains(v, "panel")
		case "panel":
			w.Panel = v
			if v == "none" {
				w.Panel, w.Drawn = "", false
			}
		case "undrawn":
			w.Drawn = false
		case "gates-only":
			w.PathDoubt = true
		case "re-run":
			w.Rerun = true
		case "unsure":
			w.Unsure = true
		case "unread":
			w.Unread = true
		case "entered":
			w.Entered = true
		case "blank":
			w.Blank = true
		case "struck":
			w.Struck = true
		default:
			return set(map[string]*string{"bib": &w.Bib, "group": &w.Group, "code": &w.Code, "gate": &w.Gate, "reason": &w.Reason}[k], k, v)
		}
		return nil
	}); err != nil {
		return err
	}
	s.rows = append(s.rows, w)
	return nil
}

// facts fills in what the case left out: all placed cards are in, each with its number of rows.
func (s *script) facts() rules.Facts {
	f := rules.Facts{Race: &s.race, Rows: s.rows, Jury: s.jury, Answers: s.answers, AnsweredBy: s.answeredBy}
	for _, run := range s.race.Runs {
		for _, cr := range run.Courses {
			s.run, s.course = run.Number, cr.Course
			for _, p := range cr.Places {
				_, _ = s.at(strconv.Itoa(p.Card)) // a placed card has a number
			}
		}
	}
	count := map[sheetmodel.CardKey]int{}
	for _, w := range s.rows {
		if !w.Struck && !w.Blank {
			count[w.Ref.CardKey]++
		}
	}
	for key, c := range s.cards {
		if c.In && !s.counted[key] {
			n := count[key]
			c.RowCount = &n
		}
		f.Cards = append(f.Cards, *c)
	}
	return f
}

// words splits a line at blanks outside quotes and takes the quotes away.
func words(line string) []string {
	var all []string
	var word strings.Builder
	quoted := false
	for _, r := range line + " " {
		switch {
		case r == '"':
			quoted = !quoted
		case r == ' ' && !quoted:
			if word.Len() > 0 {
				all = append(all, word.String())
			}
			word.Reset()
		default:
			word.WriteRune(r)
		}
	}
	return all
}

func each(pairs []string, f func(key, value string) error) error {
	for _, p := range pairs {
		key, value, _ := strings.Cut(p, "=")
		if err := f(key, value); err != nil {
			return err
		}
	}
	return nil
}

func set(target *string, key, value string) error {
	if target == nil {
		return fmt.Errorf("no such key: %s", key)
	}
	*target = value
	return nil
}

func atoi(target *int, text string) error {
	n, err := strconv.Atoi(text)
	*target = n
	return err
}
