package racefolder

import (
	"fmt"
	"strings"

	"gatefold/sheetmodel"
)

// startList reads the start list into the race. A bib is group and number: twice in one group is
// refused, the same number in two groups is two racers; with a group and without one, nobody could say
// which of the two is meant.
func (f *raceFile) startList(p *problems, text []byte) {
	type place struct{ group, number string }
	first := map[place]int{}
	unknown := map[string]bool{} // said once, however many racers it concerns
	for _, row := range readTable(p, text, startColumns) {
		s := sheetmodel.Starter{Name: fullName(row), Club: row.value[columnClub], Line: row.line}
		s.Number = sheetmodel.CanonicalBib(row.value[columnBib])
		if s.Number == "" {
			p.at(row.line, "%sno bib; fill it in, or remove the line", who(s))
			continue
		}
		if !sheetmodel.GrammarBib.Fits(s.Number) {
			p.at(row.line, "bib %q is not 1 to 4 digits, with letters before or after at most; correct it", shorten(row.value[columnBib]))
			continue
		}
		if !f.groupAndCourse(p, row, &s, unknown) {
			continue
		}
		key := place{s.Group, s.Number}
		if first[key] > 0 {
			p.at(row.line, "bib %s is also on line %d; give one of the two another number or group", spellBib(s.Bib), first[key])
			continue
		}
		first[key] = row.line
		for _, other := range f.race.Starters {
			if other.Number == s.Number && (other.Group == "") != (s.Group == "") {
				p.at(row.line, "bib %s is also on line %d, one of the two without a group; give both a group (a column group), or one another number", s.Number, other.Line)
				break
			}
		}
		f.race.Starters = append(f.race.Starters, s)
	}
}

func fullName(row tableRow) string {
	if n := row.value[columnName]; n != "" && !row.has[columnLast] {
		// With a column "first name" beside it, "name" is the family name.
		return strings.TrimSpace(row.value[columnFirst] + " " + n)
	}
	if row.value[columnLast] == "" && row.value[columnFirst] == "" {
		return row.value[columnName]
	}
	first, name := row.value[columnFirst], row.value[columnName]
	if !row.has[columnFirst] && name != "" {
		// With a column for the family name alone, "name" is the given name (as Nome beside Cognome) or all of it.
		if strings.Contains(strings.ToLower(name), strings.ToLower(row.value[columnLast])) {
			return name
		}
		first = name
	}
	return strings.TrimSpace(first + " " + row.value[columnLast])
}

func who(s sheetmodel.Starter) string {
	if s.Name == "" {
		return ""
	}
	return s.Name + " has "
}

// groupAndCourse fills group and course of a starter, each from the other where that is certain.
func (f *raceFile) groupAndCourse(p *problems, row tableRow, s *sheetmodel.Starter, unknown map[string]bool) bool {
	refuse := func(unsure bool, what, format string, args ...any) bool {
		if !unknown[what] {
			unknown[what] = true
			p.follows(unsure, row.line, format, args...)
		}
		return false
	}
	course := row.value[columnCourse]
	if course != "" {
		if s.Course = sameWord(course, f.race.Courses); s.Course == "" {
			return refuse(f.unsureCourses, "course "+course, "course %q is not in race.yaml%s", shorten(course), didYouMean(course, f.race.Courses))
		}
	}
	names := groupNames(f.race)
	group := row.value[columnGroup]
	switch {
	case group != "":
		if s.Group = sameWord(group, names); s.Group == "" {
			return refuse(f.unsureGroups, "group "+group, "group %q is not in race.yaml; add it there under groups, or correct it here%s", shorten(group), nearWord(group, names))
		}
	case row.has[columnGroup] && len(names) > 0:
		p.at(row.line, "bib %s has no group; write one of: %s", s.Number, strings.Join(names, ", "))
		return false
	default:
		s.Group = f.onlyGroup(s.Course)
	}
	for _, g := range f.race.Groups {
		if g.Name != s.Group || g.Course == "" {
			continue
		}
		if s.Course != "" && s.Course != g.Course {
			p.at(row.line, "bib %s is on course %s, but all of group %s ski %s; correct one", spellBib(s.Bib), s.Course, g.Name, g.Course)
			return false
		}
		s.Course = g.Course
	}
	if s.Course == "" && len(f.race.Courses) == 1 {
		s.Course = f.race.Courses[0]
	}
	if s.Course == "" {
		return refuse(f.unsureCourses || f.unsureGroups, "no course of "+s.Group, "bib %s has no course; add a column course, or write in race.yaml which course %s skis", spellBib(s.Bib), orWord(s.Group, "its group"))
	}
	return true
}

// onlyGroup is the group of a starter whose line names none: the only one, or the only one on the course.
func (f *raceFile) onlyGroup(course string) string {
	if len(f.race.Groups) == 1 {
		return f.race.Groups[0].Name
	}
	found := ""
	for _, g := range f.race.Groups {
		if course != "" && g.Course == course {
			if found != "" {
				return ""
			}
			found = g.Name
		}
	}
	return found
}

func nearWord(got string, known []string) string {
	if hint := didYouMean(got, known); strings.Contains(hint, "did you mean") {
		return hint
	}
	return ""
}

func orWord(text, fallback string) string {
	if text == "" {
		return fallback
	}
	return fmt.Sprintf("group %s", text)
}
