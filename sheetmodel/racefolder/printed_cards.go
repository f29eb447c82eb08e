package racefolder

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"gatefold/sheetmodel"
)

// PrintedCards are the numbers of the cards that were printed for one course in one run.
type PrintedCards struct {
	Run    int    `yaml:"run"`
	Course string `yaml:"course"`
	Cards  []int  `yaml:"cards,flow"` // ascending
}

// withPrinted adds what goes out now to what is out already. Where the record was begun without numbers
// it stays without: what it lacks may be printed all the same.
func (was *printed) withPrinted(now []PrintedCards) []PrintedCards {
	var all []PrintedCards
	if was != nil {
		if len(was.Cards) == 0 {
			return nil
		}
		all = was.Cards
	}
	for _, n := range now {
		at := slices.IndexFunc(all, func(o PrintedCards) bool { return o.Run == n.Run && o.Course == n.Course })
		if at < 0 {
			all = append(all, PrintedCards{Run: n.Run, Course: n.Course})
			at = len(all) - 1
		}
		cards := append(slices.Clone(all[at].Cards), n.Cards...)
		slices.Sort(cards)
		all[at].Cards = slices.Compact(cards)
	}
	return all
}

// wasPrinted is the record of what was printed, nil if there is none that can be read.
func (f *Folder) wasPrinted() *printed {
	text, err := newFiles(f.Dir, f.fsys).read(PrintedFile)
	if err != nil {
		return nil
	}
	var was printed
	if err := yaml.Unmarshal(text, &was); err != nil {
		return nil // a Folder that opened has read it; it was spoilt since, and opening says so
	}
	return &was
}

// Misprinted says in sentences where places and printed cards don't fit: a place names a card that was
// not printed, or was printed for another course, or a number went out for two courses of one run. Of
// runs for which nothing is known to be printed it says nothing.
func (f *Folder) Misprinted() []string {
	was := f.wasPrinted()
	if was == nil {
		return nil
	}
	var notes []string
	for _, run := range f.Race().Runs {
		courses := map[int][]string{} // for which each number was printed
		var numbers []int
		for _, p := range was.Cards {
			for _, n := range p.Cards {
				if p.Run != run.Number {
					continue
				}
				if len(courses[n]) == 0 {
					numbers = append(numbers, n)
				}
				courses[n] = append(courses[n], p.Course)
			}
		}
		if len(numbers) == 0 {
			continue
		}
		for _, c := range run.Courses {
			notes = append(notes, misplaced(run.Number, c, courses)...)
		}
		notes = append(notes, printedTwice(run.Number, numbers, courses)...)
	}
	return notes
}

// misplaced names the cards of a course's places that were not printed for it. courses says for which
// courses each number was.
func misplaced(run int, c sheetmodel.CourseRun, courses map[int][]string) []string {
	var notes []string
	for _, p := range c.Places {
		at := fmt.Sprintf("run %d, %s: its places name card %d", run, c.Course, p.Card)
		switch was := courses[p.Card]; {
		case slices.Contains(was, c.Course):
		case len(was) > 0:
			notes = append(notes, fmt.Sprintf("%s, which was printed for %s and is read as %s's; correct the number", at, strings.Join(was, " and "), was[0]))
		default:
			notes = append(notes, at+", which was not printed for this run; correct the number, or print it with gatefold cards")
		}
	}
	return notes
}

// printedTwice names the numbers that went out for more than one course of a run, as happens when cards
// are printed again with another count: nobody who reads "card 9" knows which one is meant.
func printedTwice(run int, numbers []int, courses map[int][]string) []string {
	slices.Sort(numbers)
	both := map[string][]string{}
	var names []string
	for _, n := range numbers {
		if len(courses[n]) < 2 {
			continue
		}
		name := strings.Join(courses[n], " and for ")
		if both[name] == nil {
			names = append(names, name)
		}
		both[name] = append(both[name], strconv.Itoa(n))
	}
	var notes []string
	for _, name := range names {
		what, was := "card", "was"
		if len(both[name]) > 1 {
			what, was = "cards", "were"
		}
		notes = append(notes, fmt.Sprintf("run %d: %s %s %s printed for %s; throw away those that are not used", run, what, strings.Join(both[name], ", "), was, name))
	}
	return notes
}
