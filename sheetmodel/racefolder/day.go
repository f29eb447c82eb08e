package racefolder

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

// What happens in the course of a run and is nobody's card: gates changed by the jury, judges relieved,
// bibs exchanged, messages heard.

var clockShape = regexp.MustCompile(`^([01]?[0-9]|2[0-3]):[0-5][0-9]$`)

// clock reads a time of day; must says that it can't be left out.
func (m *mapping) clock(key string, must bool) string {
	t := m.text(key)
	switch {
	case t == "" && must:
		m.p.at(m.node.Line, "%s%s is missing; write the official time, %s: \"10:42\"", m.where, key, key)
	case t != "" && !clockShape.MatchString(t):
		m.fail(key, "%s %q is not a time of day; write it in quotes as \"10:42\"", key, shorten(t))
		return ""
	case len(t) == len("9:42"):
		return "0" + t
	}
	return t
}

// gateChanges reads what the jury did to gates during a run. Each gate that it names has to be among the
// gates of the course: they hold every gate that stood at any time of the run.
func (m *mapping) gateChanges(course []string) []sheetmodel.GateChange {
	var all []sheetmodel.GateChange
	for i, n := range m.nodes("gate_changes") {
		c := mappingOf(m.p, n, fmt.Sprintf("%sgate_changes, entry %d", m.where, i+1), "at", "gate", "what", "was")
		if c == nil {
			continue
		}
		g := sheetmodel.GateChange{
			At: c.clock("at", true), Gate: plainGate(sheetmodel.CanonicalGate(c.need("gate", "12a"))),
			What: strings.ToLower(c.need("what", "added")), Was: plainGate(sheetmodel.CanonicalGate(c.text("was"))),
		}
		whats := []string{sheetmodel.GateAdded, sheetmodel.GateRemoved, sheetmodel.GateRenumbered}
		if g.What != "" && !slices.Contains(whats, g.What) {
			c.fail("what", "what %q is not known; write one of %s", shorten(g.What), strings.Join(whats, ", "))
			continue
		}
		if (g.What == sheetmodel.GateRenumbered) != (g.Was != "") {
			c.fail("what", "was: and what: renumbered belong together; write {at: \"11:05\", gate: 18, what: renumbered, was: 17}")
			continue
		}
		for _, label := range []string{g.Gate, g.Was} {
			if label != "" && len(course) > 0 && !slices.Contains(course, label) {
				c.fail("gate", "gate %s is not on this course (%s); gates: holds every gate that stood at any time of the run", label, SpellGates(course, course))
			}
		}
		all = append(all, g)
	}
	return all
}

// relief reads who took over at a place.
func (m *mapping) relief() []sheetmodel.Relief {
	var all []sheetmodel.Relief
	for i, n := range m.nodes("relief") {
		c := mappingOf(m.p, n, fmt.Sprintf("%srelief, entry %d", m.where, i+1), "at", "judge", "phone")
		if c == nil {
			continue
		}
		all = append(all, sheetmodel.Relief{At: c.clock("at", true), Judge: c.text("judge"), Phone: c.text("phone")})
	}
	return all
}

// exchanged reads pairs of bibs, each as [22, 31].
func (f *raceFile) exchanged(m *runNode) [][2]sheetmodel.Bib {
	var all [][2]sheetmodel.Bib
	for _, n := range m.nodes("exchanged_bibs") {
		items := itemsOf(&m.mapping, "exchanged_bibs", n)
		if len(items) != 2 {
			f.p.at(n.Line, "%sexchanged_bibs: each entry names the two bibs, as in [22, 31]", m.where)
			continue
		}
		var pair [2]sheetmodel.Bib
		ok := true
		for i, it := range items {
			b, err := f.starter(it)
			if err != nil {
				f.p.at(it.line, "%sexchanged_bibs: %s", m.where, err)
				ok = false
				continue
			}
			pair[i] = b
		}
		if ok {
			all = append(all, pair)
		}
	}
	return all
}

// heard reads what came by radio or voice.
func (f *raceFile) heard(m *runNode) []sheetmodel.Heard {
	var all []sheetmodel.Heard
	for i, n := range m.nodes("heard") {
		c := mappingOf(f.p, n, m.where+"heard, entry "+strconv.Itoa(i+1), "bib", "gate", "at")
		if c == nil {
			continue
		}
		b, err := f.starter(item{c.need("bib", "19"), n.Line})
		if err != nil {
			c.fail("bib", "%s", err)
			continue
		}
		h := sheetmodel.Heard{Bib: b, Gate: plainGate(sheetmodel.CanonicalGate(c.need("gate", "27"))), At: c.clock("at", false)}
		for _, s := range f.race.Starters {
			if s.Bib == b {
				h.Course = s.Course
			}
		}
		all = append(all, h)
	}
	return all
}
