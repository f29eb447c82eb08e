package main

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// raceReport is what gatefold race says. It holds no names of people and no phone numbers.
type raceReport struct {
	Folder       string                  `json:"folder"`
	ID           string                  `json:"id"`
	Name         string                  `json:"name"`
	Date         string                  `json:"date"`
	Zone         string                  `json:"time_zone"`
	ClockOffsetS float64                 `json:"clock_offset_s"` // official race time minus the laptop's clock
	Discipline   string                  `json:"discipline"`
	Starters     int                     `json:"starters"`
	Groups       []groupReport           `json:"groups"`
	Runs         []runReport             `json:"runs"`
	Forerunners  listReport              `json:"forerunners"`
	Codes        sheetmodel.CodeBook     `json:"code_book"`
	Rules        sheetmodel.RuleSettings `json:"rules"`
	Open         []openPoint             `json:"open"`  // what is still to be filled in
	Notes        []string                `json:"notes"` // no mistakes, but worth a look
}

type groupReport struct {
	Name     string `json:"name"`
	Course   string `json:"course,omitempty"`
	Starters int    `json:"starters"`
}

type runReport struct {
	Run          int            `json:"run"`
	Courses      []courseReport `json:"courses"`
	DidNotStart  listReport     `json:"did_not_start"`
	DidNotFinish listReport     `json:"did_not_finish"`
	Reruns       listReport     `json:"re_runs"`
}

type courseReport struct {
	Course       string        `json:"course"`
	Starters     int           `json:"starters"`
	Gates        []string      `json:"gates"` // empty: not known yet
	Places       []placeReport `json:"places"`
	Uncovered    []string      `json:"uncovered"`     // gates that no place watches
	WatchedTwice []string      `json:"watched_twice"` // gates that two places or more watch
}

type placeReport struct {
	Card       int      `json:"card"`
	Name       string   `json:"name,omitempty"`
	Gates      []string `json:"gates"`
	JudgeKnown bool     `json:"judge_known"`
}

type listReport struct {
	Given sheetmodel.Given `json:"given"`
	Bibs  int              `json:"bibs"`
}

type openPoint struct {
	Run    int    `json:"run,omitempty"`
	Course string `json:"course,omitempty"`
	What   string `json:"what"`
}

func reportRace(folder *racefolder.Folder) raceReport {
	r := folder.Race()
	rep := raceReport{
		Folder: folder.Dir, ID: r.ID, Name: r.Name, Date: r.Date, Zone: r.Zone, ClockOffsetS: r.ClockOffset.Seconds(),
		Discipline: r.Discipline, Starters: len(r.Starters), Forerunners: listOf(r.Forerunners), Codes: r.Codes, Rules: r.Rules,
		Groups: []groupReport{}, Open: []openPoint{}, Notes: append([]string{}, folder.Notes()...),
	}
	for _, left := range folder.Sample() {
		rep.Notes = append(rep.Notes, sampleNote(left))
	}
	for _, g := range r.Groups {
		n := 0
		for _, s := range r.Starters {
			if s.Group == g.Name {
				n++
			}
		}
		rep.Groups = append(rep.Groups, groupReport{g.Name, g.Course, n})
	}
	if len(r.Starters) == 0 {
		rep.open(0, "", "the start list is empty")
	}
	if r.Forerunners.Given == sheetmodel.ListUnknown {
		rep.open(0, "", "forerunners not known")
	}
	for _, run := range r.Runs {
		rr := runReport{Run: run.Number, DidNotStart: listOf(run.DidNotStart), DidNotFinish: listOf(run.DidNotEnd), Reruns: listOf(run.Reruns)}
		for _, c := range run.Courses {
			rr.Courses = append(rr.Courses, rep.course(r, run.Number, c))
		}
		for _, l := range []struct {
			name string
			list sheetmodel.BibList
		}{{"did not start", run.DidNotStart}, {"did not finish", run.DidNotEnd}, {"re-runs", run.Reruns}} {
			if l.list.Given == sheetmodel.ListUnknown {
				rep.open(run.Number, "", "%s not known", l.name)
			}
		}
		rep.Runs = append(rep.Runs, rr)
	}
	return rep
}

// sampleNote says that a part of a race is still the one that gatefold start wrote.
func sampleNote(left string) string { return "sample data: " + left }

func (rep *raceReport) open(run int, course, format string, args ...any) {
	rep.Open = append(rep.Open, openPoint{run, course, fmt.Sprintf(format, args...)})
}

func (rep *raceReport) course(r *sheetmodel.Race, run int, c sheetmodel.CourseRun) courseReport {
	cr := courseReport{
		Course: c.Course, Gates: append([]string{}, c.Gates...), Places: []placeReport{}, Uncovered: []string{}, WatchedTwice: []string{},
	}
	for _, s := range r.Starters {
		if s.Course == c.Course {
			cr.Starters++
		}
	}
	watched := map[string]int{}
	for _, p := range c.Places {
		cr.Places = append(cr.Places, placeReport{p.Card, p.Name, append([]string{}, p.Gates...), p.Judge != ""})
		if len(p.Gates) == 0 {
			rep.open(run, c.Course, "card %d has no gates yet", p.Card)
		}
		for _, g := range p.Gates {
			watched[g]++
		}
	}
	switch {
	case len(c.Gates) == 0:
		rep.open(run, c.Course, "gates not known")
	case len(c.Places) == 0:
		rep.open(run, c.Course, "places not known")
	default:
		for _, g := range c.Gates {
			switch n := watched[g]; {
			case n == 0:
				cr.Uncovered = append(cr.Uncovered, g)
			case n > 1:
				cr.WatchedTwice = append(cr.WatchedTwice, g)
			}
		}
	}
	if len(cr.Uncovered) > 0 {
		rep.open(run, c.Course, "gates that nobody watches: %s", racefolder.SpellGates(cr.Uncovered, c.Gates))
	}
	return cr
}

func listOf(l sheetmodel.BibList) listReport { return listReport{l.Given, len(l.Bibs)} }

func (l listReport) String() string {
	if l.Given == sheetmodel.ListGiven {
		return fmt.Sprintf("%d given", l.Bibs)
	}
	return string(l.Given)
}

func (rep raceReport) print(a *app) {
	a.printf("%s (%s), %s, %s, %s\n", rep.Name, rep.ID, rep.Discipline, rep.Date, rep.Zone)
	a.printf("official time: this laptop's clock %+gs\n", rep.ClockOffsetS)
	a.printf("starters: %d", rep.Starters)
	for i, g := range rep.Groups {
		sep := ", "
		if i == 0 {
			sep = ": "
		}
		a.printf("%s%s %d%s", sep, g.Name, g.Starters, strings.TrimSuffix(" on "+g.Course, " on "))
	}
	a.printf("; forerunners: %s\n", rep.Forerunners)
	a.printf("codes: %s, %s\n", rep.Codes.Name, count(len(rep.Codes.Codes), "code"))
	a.printSettings(rep.Rules, rep.Discipline)
	for _, r := range rep.Runs {
		a.printf("\nrun %d: did not start: %s; did not finish: %s; re-runs: %s\n", r.Run, r.DidNotStart, r.DidNotFinish, r.Reruns)
		for _, c := range r.Courses {
			c.print(a)
		}
	}
	if len(rep.Open) == 0 {
		a.printf("\nnothing is open\n")
	} else {
		a.printf("\nstill open:\n")
	}
	for _, o := range rep.Open {
		a.printf("  %s\n", strings.TrimPrefix(strings.Join(slices.DeleteFunc([]string{runWord(o.Run), o.Course, o.What},
			func(s string) bool { return s == "" }), ", "), ", "))
	}
	for _, n := range rep.Notes {
		a.printf("note: %s\n", n)
	}
}

func (c courseReport) print(a *app) {
	a.printf("  %s: %s, ", c.Course, count(c.Starters, "starter"))
	if len(c.Gates) == 0 {
		a.printf("gates not known yet, ")
	} else {
		a.printf("gates %s, ", racefolder.SpellGates(c.Gates, c.Gates))
	}
	if len(c.Places) == 0 {
		a.printf("places not known yet\n")
		return
	}
	a.printf("%s\n", count(len(c.Places), "place"))
	for _, p := range c.Places {
		gates := "gates not known yet"
		if len(p.Gates) > 0 {
			gates = "gates " + racefolder.SpellGates(p.Gates, c.Gates)
		}
		judge := "no judge named"
		if p.JudgeKnown {
			judge = "judge named"
		}
		a.printf("    card %-3d %-3s %s, %s\n", p.Card, p.Name, gates, judge)
	}
	if len(c.WatchedTwice) > 0 {
		a.printf("    watched twice: gate %s\n", racefolder.SpellGates(c.WatchedTwice, c.Gates))
	}
}

func runWord(run int) string {
	if run == 0 {
		return ""
	}
	return fmt.Sprintf("run %d", run)
}
