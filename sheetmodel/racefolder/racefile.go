package racefolder

import (
	"io/fs"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"gatefold/sheetmodel"
)

var raceKeys = []string{
	"format", "id", "name", "date", "time_zone", "clock_offset", "discipline", "courses", "groups",
	"start_list", "code_book", "rule_set", "rules", "spot_check", "keep_until", "language", "forerunners", "runs",
}

// disciplines are the trade's short names, with the long ones that are read as well.
var disciplines = map[string][]string{
	"SL": {"slalom"}, "GS": {"giant slalom", "giant"}, "SG": {"super-g", "super g", "superg"}, "DH": {"downhill"},
	"PSL": {"parallel slalom"}, "PGS": {"parallel giant slalom"}, "KO": {"knock-out", "knockout"},
	"AC": {"combined", "alpine combined"},
}

var idShape = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9-]{1,39}$`)

// raceFile is race.yaml, read but for what needs the other files.
type raceFile struct {
	p    *problems
	top  *mapping
	race *sheetmodel.Race

	partial bool // the start list couldn't be read whole: who is missing from it can't be said

	// The names themselves are in doubt: whatever doesn't fit them is no mistake of its own.
	unsureCourses, unsureGroups bool

	wasGroups []string // that cards were printed with
}

// readRaceFile reads the parts of race.yaml that need no other file. It returns nil when nothing
// below the format number can be trusted.
func readRaceFile(files *files, p *problems, text []byte) *raceFile {
	node := parseYAML(p, text)
	if node == nil || !formatIsKnown(p, node) {
		return nil
	}
	top := mappingOf(p, node, "", raceKeys...)
	if top == nil {
		return nil
	}
	f := &raceFile{p: p, top: top, race: &sheetmodel.Race{Format: sheetmodel.RaceFormat}}
	f.heading()
	f.courses()
	f.printed(files)
	f.groups()
	f.printedGroups()
	f.race.Rules = readRules(files, p, top)
	f.spotCheck()
	f.keepUntil()
	f.language()
	f.runs()
	return f
}

// formatIsKnown looks at the format before anything else: the keys of a newer file mean nothing here.
func formatIsKnown(p *problems, node *yaml.Node) bool {
	if node.Kind != yaml.MappingNode {
		p.at(node.Line, "expected lines of the form key: value, found %s; begin with format: %d", kindWord(node), sheetmodel.RaceFormat)
		return false
	}
	for i := 0; i+1 < len(node.Content); i += 2 {
		k, v := node.Content[i], node.Content[i+1]
		if k.Value != "format" {
			continue
		}
		n, err := strconv.Atoi(strings.TrimSpace(v.Value))
		switch {
		case v.Kind != yaml.ScalarNode || err != nil || n < 1:
			p.at(k.Line, "format %s is no format number; write format: %d", kindWord(v), sheetmodel.RaceFormat)
			return false
		case n > sheetmodel.RaceFormat:
			p.at(k.Line, "format %d is newer than this program, which reads up to %d and could misread it; use a newer gatefold", n, sheetmodel.RaceFormat)
			return false
		}
		return true
	}
	p.at(node.Line, "format is missing; write format: %d in the first line", sheetmodel.RaceFormat)
	return false
}

func (f *raceFile) heading() {
	m, r := f.top, f.race
	if r.ID = m.need("id", "a short word such as spring-2027"); r.ID != "" && !idShape.MatchString(r.ID) {
		m.fail("id", "id %q must be 2 to 40 letters, digits and hyphens; shorten or respell it", shorten(r.ID))
	}
	r.Name = m.need("name", "the name of the race")
	if r.Date = m.need("date", "2027-01-23"); r.Date != "" {
		if _, err := time.Parse(time.DateOnly, r.Date); err != nil {
			m.fail("date", "date %q is not a day of the calendar; write it as year-month-day, 2027-01-23", shorten(r.Date))
		}
	}
	if r.Zone = m.need("time_zone", "Europe/Vienna"); r.Zone != "" {
		if _, err := sheetmodel.LoadZone(r.Zone); err != nil {
			m.fail("time_zone", "time_zone %q is not in the IANA list; write continent and city, such as Europe/Vienna or America/Denver", shorten(r.Zone))
		}
	}
	r.ClockOffset = f.clockOffset()
	f.discipline()
}

func (f *raceFile) clockOffset() time.Duration {
	t := f.top.text("clock_offset")
	if t == "" || t == "0" {
		return 0
	}
	d, err := time.ParseDuration(strings.ReplaceAll(t, " ", ""))
	switch {
	case err != nil:
		f.top.fail("clock_offset", "clock_offset %q can't be read; write official race time minus the laptop's clock, such as +0s, +12s or -1m3s", shorten(t))
	case d != 0 && t[0] != '+' && t[0] != '-':
		f.top.fail("clock_offset", "clock_offset %s has no sign; write +%s when the official clock is ahead of the laptop, -%s when it is behind", t, t, t)
	case d > 24*time.Hour || d < -24*time.Hour:
		f.top.fail("clock_offset", "clock_offset %s is more than a day; set the laptop's date and write what is left", t)
	default:
		return d
	}
	return 0
}

// usualSpotCheck is one bib in fifty: some three of a race day's, and 300 of a hundred races'.
const usualSpotCheck = 0.02

// spotCheck reads "2 %", or "none".
func (f *raceFile) spotCheck() {
	f.race.SpotCheck = usualSpotCheck
	if !f.top.has("spot_check") {
		return
	}
	t := f.top.text("spot_check")
	if t == "none" {
		f.race.SpotCheck = 0
		return
	}
	n, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(t, "%")), 64)
	if err != nil || !(n >= 0 && n <= 100) {
		f.top.fail("spot_check", "spot_check %q is no share of bibs; write 2 %%, or none", shorten(t))
		return
	}
	f.race.SpotCheck = n / 100
}

// language names the file with the pages' texts. Only the desk reads it: a text that is missing there hinders nothing else.
func (f *raceFile) language() {
	t := strings.TrimPrefix(f.top.text("language"), "./")
	if t != "" && !fs.ValidPath(t) {
		f.top.fail("language", "language %q is no file in the race folder; write the name of a PO file beside %s, such as de.po", shorten(t), RaceFile)
		return
	}
	f.race.Language = t
}

func (f *raceFile) discipline() {
	t := f.top.need("discipline", "GS")
	if t == "" {
		return
	}
	var known []string
	for short, long := range disciplines {
		known = append(known, short)
		if strings.EqualFold(t, short) {
			f.race.Discipline = short
			return
		}
		for _, l := range long {
			if strings.EqualFold(t, l) {
				f.race.Discipline = short
				return
			}
		}
	}
	f.top.fail("discipline", "discipline %q is not known; write one of: %s", shorten(t), strings.Join(slices.Sorted(slices.Values(known)), ", "))
}

func (f *raceFile) courses() {
	for _, it := range f.top.items("courses") {
		if near := sameWord(it.text, f.race.Courses); near != "" {
			f.p.at(it.line, "course %s is written twice; give each course its own name", it.text)
			continue
		}
		f.race.Courses = append(f.race.Courses, it.text)
	}
	if !f.top.has("courses") {
		f.top.fail("courses", "courses is missing; write courses: [Blue, Red], or the one name your officials use")
		f.unsureCourses = true
	}
	if len(f.race.Courses) > 255 {
		f.top.fail("courses", "%d courses are more than a card can name (255)", len(f.race.Courses))
	}
}

func (f *raceFile) groups() {
	var names []string
	f.unsureGroups = !f.top.has("groups") && f.top.strange
	for i, n := range f.top.nodes("groups") {
		where := "group " + strconv.Itoa(i+1)
		g := sheetmodel.Group{}
		if n.Kind == yaml.ScalarNode && !isNull(n) {
			g.Name = strings.TrimSpace(n.Value)
		} else {
			m := mappingOf(f.p, n, where, "name", "course")
			if m == nil {
				continue
			}
			g.Name = m.need("name", "girls")
			if c := m.text("course"); c != "" {
				if g.Course = sameWord(c, f.race.Courses); g.Course == "" {
					f.p.follows(f.unsureCourses, m.line("course"), "%scourse %q is not under courses%s", m.where, shorten(c), didYouMean(c, f.race.Courses))
				}
			}
		}
		switch {
		case g.Name == "":
			continue
		case sameWord(g.Name, names) != "":
			f.p.at(n.Line, "%s: %s is written twice; give each group its own name", where, g.Name)
			continue
		case strings.ContainsAny(g.Name, ",;"):
			f.p.at(n.Line, "%s: the name %q holds a comma or semicolon; use spaces or hyphens", where, g.Name)
			continue
		}
		names = append(names, g.Name)
		f.race.Groups = append(f.race.Groups, g)
	}
}

// sameWord returns the word of the list that equals text but for case and spacing, or nothing.
func sameWord(text string, list []string) string {
	for _, w := range list {
		if strings.EqualFold(strings.Join(strings.Fields(text), " "), strings.Join(strings.Fields(w), " ")) {
			return w
		}
	}
	return ""
}
