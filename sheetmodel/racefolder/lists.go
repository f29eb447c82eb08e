package racefolder

import (
	"fmt"
	"strings"

	"go.yaml.in/yaml/v3"

	"gatefold/sheetmodel"
)

// lists reads the optional lists of the race and of its runs. It needs the start list: a slip of the
// pen in one of them would silently change nothing, so a bib that nobody wears is refused.
func (f *raceFile) lists(files *files) {
	f.race.Forerunners = f.bibList(files, f.top, "forerunners", f.forerunner)
	for _, n := range f.top.nodes("runs") {
		m := runMapping(n)
		if m == nil {
			continue
		}
		m.p = f.p
		run := f.race.Run(m.number)
		if run == nil {
			continue
		}
		run.DidNotStart = f.bibList(files, &m.mapping, "did_not_start", f.starter)
		run.DidNotEnd = f.bibList(files, &m.mapping, "did_not_finish", f.starter)
		run.Reruns = f.bibList(files, &m.mapping, "re_runs", f.starter)
		run.LateStarts = f.bibList(files, &m.mapping, "late_starts", f.starter)
		run.MayStart = f.bibList(files, &m.mapping, "may_start", f.starter)
		run.Conditional = f.bibList(files, &m.mapping, "conditional_starts", f.starter)
		run.Exchanged = f.exchanged(m)
		run.Heard = f.heard(m)
	}
	for i := range f.race.Runs {
		r := &f.race.Runs[i]
		for _, l := range []*sheetmodel.BibList{&r.DidNotStart, &r.DidNotEnd, &r.Reruns, &r.LateStarts, &r.MayStart, &r.Conditional} {
			if l.Given == "" {
				l.Given = sheetmodel.ListUnknown
			}
		}
	}
}

// runNode is an entry of runs, looked at a second time: its problems were noted the first time.
type runNode struct {
	mapping
	number int
}

func runMapping(n *yaml.Node) *runNode {
	if n.Kind != yaml.MappingNode {
		return nil
	}
	r := &runNode{mapping: mapping{node: n, vals: map[string]*yaml.Node{}}}
	for i := 0; i+1 < len(n.Content); i += 2 {
		if _, twice := r.vals[n.Content[i].Value]; !twice && n.Content[i+1].Kind != yaml.AliasNode {
			r.vals[n.Content[i].Value] = n.Content[i+1]
		}
	}
	if v := r.vals["run"]; v != nil {
		_, _ = fmt.Sscanf(v.Value, "%d", &r.number)
	}
	r.where = fmt.Sprintf("run %d: ", r.number)
	return r
}

// bibList reads one list: not known, none, bibs, or the name of a CSV file with a bib column.
func (f *raceFile) bibList(files *files, m *mapping, key string, find func(item) (sheetmodel.Bib, error)) sheetmodel.BibList {
	unknown := sheetmodel.BibList{Given: sheetmodel.ListUnknown}
	n := m.vals[key]
	text := strings.TrimSpace(scalarOf(m, key))
	switch {
	case isNull(n) || notKnown(text):
		return unknown
	case strings.EqualFold(text, string(sheetmodel.ListNone)):
		return sheetmodel.BibList{Given: sheetmodel.ListNone}
	case n.Kind == yaml.SequenceNode && len(n.Content) == 0:
		m.fail(key, "%s is an empty list, which could mean two things; write none if there were none, or not known", key)
		return unknown
	case strings.HasSuffix(strings.ToLower(text), ".csv"):
		return f.bibFile(files, m, key, text, find)
	}
	list := sheetmodel.BibList{Given: sheetmodel.ListGiven}
	lines := map[sheetmodel.Bib]int{}
	for _, it := range m.items(key) {
		b, err := find(it)
		switch {
		case err != nil:
			f.p.at(it.line, "%s%s: %s", m.where, key, err)
		case lines[b] > 0:
			f.p.at(it.line, "%s%s: bib %s is written twice; keep one", m.where, key, spellBib(b))
		default:
			lines[b] = it.line
			list.Bibs = append(list.Bibs, b)
		}
	}
	return list
}

// bibFile reads a list from a CSV file; a file with a header and nothing below it means none.
func (f *raceFile) bibFile(files *files, m *mapping, key, name string, find func(item) (sheetmodel.Bib, error)) sheetmodel.BibList {
	text, err := files.read(name)
	if err != nil {
		m.fail(key, "%s: %s", key, err)
		return sheetmodel.BibList{Given: sheetmodel.ListUnknown}
	}
	p := files.problems(name)
	list := sheetmodel.BibList{Given: sheetmodel.ListGiven}
	lines := map[sheetmodel.Bib]int{}
	for _, row := range readTable(p, text, bibColumns) {
		written := strings.TrimSpace(row.value[columnGroup] + " " + row.value[columnBib])
		b, err := find(item{written, row.line})
		switch {
		case err != nil:
			p.at(row.line, "%s", err)
		case lines[b] > 0:
			p.at(row.line, "bib %s is also on line %d; keep one", spellBib(b), lines[b])
		default:
			lines[b] = row.line
			list.Bibs = append(list.Bibs, b)
		}
	}
	if len(list.Bibs) == 0 && len(p.list) == 0 {
		list.Given = sheetmodel.ListNone
	}
	return list
}

// starter finds the one starter that "22" or "girls 22" means.
func (f *raceFile) starter(it item) (sheetmodel.Bib, error) {
	group, number := f.splitBib(it.text)
	if !sheetmodel.GrammarBib.Fits(number) {
		return sheetmodel.Bib{}, fmt.Errorf("%q is not a bib; write it as 22, or with its group as girls 22", shorten(it.text))
	}
	found := f.match(func(s sheetmodel.Starter) bool { return s.Number == number }, group)
	if len(found) == 0 {
		// 07 equals 7 only if the start list holds one of the two.
		found = f.match(func(s sheetmodel.Starter) bool { return trimZeros(s.Number) == trimZeros(number) }, group)
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		if f.partial {
			return sheetmodel.Bib{Group: group, Number: number}, nil // refused already, for the start list
		}
		return sheetmodel.Bib{}, fmt.Errorf("bib %s is not in the start list; correct it, or add the racer there", it.text)
	default:
		var ways []string
		for _, b := range found {
			ways = append(ways, spellBib(b))
		}
		return sheetmodel.Bib{}, fmt.Errorf("bib %s is worn by %d racers; write %s", it.text, len(found), strings.Join(ways, " or "))
	}
}

// forerunner takes a bib of its own: one that a starter wears would turn that racer's faults into information.
func (f *raceFile) forerunner(it item) (sheetmodel.Bib, error) {
	number := sheetmodel.CanonicalBib(it.text)
	if !sheetmodel.GrammarBib.Fits(number) {
		return sheetmodel.Bib{}, fmt.Errorf("%q is not a bib; write it as V1", shorten(it.text))
	}
	for _, s := range f.race.Starters {
		if trimZeros(s.Number) == trimZeros(number) {
			return sheetmodel.Bib{}, fmt.Errorf("bib %s is also a racer's, on line %d of the start list; give forerunners bibs of their own, such as V1", number, s.Line)
		}
	}
	return sheetmodel.Bib{Number: number}, nil
}

func (f *raceFile) match(same func(sheetmodel.Starter) bool, group string) []sheetmodel.Bib {
	var found []sheetmodel.Bib
	for _, s := range f.race.Starters {
		if same(s) && (group == "" || s.Group == group) {
			found = append(found, s.Bib)
		}
	}
	return found
}

// splitBib takes "U12 girls 22" apart: the longest group name that the text begins with, and the rest.
func (f *raceFile) splitBib(text string) (group, number string) {
	words := strings.Fields(text)
	for i := len(words) - 1; i > 0; i-- {
		if g := sameWord(strings.Join(words[:i], " "), groupNames(f.race)); g != "" {
			return g, sheetmodel.CanonicalBib(strings.Join(words[i:], ""))
		}
	}
	return "", sheetmodel.CanonicalBib(text)
}

func groupNames(r *sheetmodel.Race) []string {
	var names []string
	for _, g := range r.Groups {
		names = append(names, g.Name)
	}
	return names
}

func trimZeros(number string) string {
	if t := strings.TrimLeft(number, "0"); t != "" {
		return t
	}
	return number
}

// spellBib is a bib as a person writes it in race.yaml.
func spellBib(b sheetmodel.Bib) string {
	return strings.TrimSpace(b.Group + " " + b.Number)
}
