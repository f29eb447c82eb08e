package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
	"gatefold/sheetmodel/racefolder"
)

// cardsReport is what `gatefold cards --json` prints: what was written, and where every field lies.
type cardsReport struct {
	Format   int            `json:"format"`
	Files    []string       `json:"files"`
	Cards    int            `json:"cards"`
	Spares   int            `json:"spares"`
	Geometry print.Geometry `json:"geometry"`
}

type cardsOptions struct {
	out     string
	run     int
	count   int
	spares  int
	paper   string
	form    string
	asJSON  bool
	testing bool
}

func cardsCommand(a *app) *cobra.Command {
	var o cardsOptions
	c := &cobra.Command{
		Use:   "cards RACE",
		Short: "Print the judges' cards of a race, and spares, as PDF",
		Long: `Writes one PDF a run with numbered cards for every course. Cards carry a number; which
judge and which gates a number stands for is said later, by the placing list or by the
judge's own hand, so both runs can be printed before anyone knows the gates of run 2.

Each course gets as many cards as it has places, or --count; numbers run on over the
courses, so that no number stands twice in a run. Print at actual size, both sides, flip
on the short edge; the test page (--test-page) shows whether your printer does. Cards to
be folded (--form fold-over) are printed on one side.

The race folder keeps each printed layout: a card is always read with its own.`,
		Example: "  gatefold cards demo/race --out cards\n  gatefold cards demo/race --form fold-over --spares 6",
		Args:    cobra.ExactArgs(1),
		RunE:    func(_ *cobra.Command, args []string) error { return a.cards(args[0], o) },
	}
	f := c.Flags()
	f.StringVar(&o.out, "out", "", "folder for the PDFs (default: cards below the race folder)")
	f.IntVar(&o.run, "run", 0, "only this run (default: both)")
	f.IntVar(&o.count, "count", 0, "cards a course (default: its places, else 8)")
	f.IntVar(&o.spares, "spares", 4, "numbered spares with a blank header")
	f.StringVar(&o.paper, "paper", "a5", "size of a card: a5 (on A4) or half-letter (on Letter)")
	f.StringVar(&o.form, "form", string(print.TwoUp), "two-up (both sides, cut) or fold-over (one side, folded)")
	f.BoolVar(&o.testing, "test-page", false, "only write the printer test page")
	f.BoolVar(&o.asJSON, "json", false, "print files and geometry as JSON (schema: cards.schema.json)")
	return c
}

func (a *app) cards(dir string, o cardsOptions) error {
	form := print.Form(o.form)
	if form != print.TwoUp && form != print.FoldOver {
		return usageErrorf("--form %s: must be two-up or fold-over", o.form)
	}
	if o.paper != "a5" && o.paper != "half-letter" {
		return usageErrorf("--paper %s: must be a5 or half-letter", o.paper)
	}
	if o.count < 0 || o.spares < 0 || o.spares > 99 || o.count > 99 {
		return usageErrorf("--count and --spares must lie between 0 and 99")
	}
	folder, err := racefolder.Open(dir)
	if err != nil {
		return err
	}
	race := folder.Race()
	if o.run != 0 && race.Run(o.run) == nil {
		return usageErrorf("--run %d: the race has no such run", o.run)
	}
	out := cmp.Or(o.out, filepath.Join(dir, "cards"))
	if err := makeFolder(out); err != nil {
		return err
	}
	report := cardsReport{Format: 1, Files: []string{}}
	test := filepath.Join(out, "printer-test.pdf")
	if err := writeFile(test, func(w io.Writer) error { return print.TestPage(w, o.paper, a.now()) }); err != nil {
		return err
	}
	report.Files = append(report.Files, test)
	report.Geometry = print.NewGeometry(nil, nil)
	if !o.testing {
		if err := a.printRuns(folder, race, o, form, out, &report); err != nil {
			return err
		}
	}
	if !o.testing {
		// The first is the one that cards show most; gatefold race lists all, here they would only be repeated.
		if left := folder.Sample(); len(left) > 0 {
			a.complain(sampleNote(left[0]))
			if n := len(left) - 1; n > 0 {
				a.complain(fmt.Sprintf("sample data: %s more; all are named by: gatefold race %s", count(n, "part"), racefolder.ShellWord(dir)))
			}
		}
		for _, note := range slices.Concat(racefolder.Reused(race), folder.Misprinted()) {
			a.complain(note)
		}
	}
	if o.asJSON {
		return a.printJSON(report)
	}
	for _, f := range report.Files {
		a.printf("wrote %s\n", f)
	}
	if !o.testing {
		how := "both sides, flip on the short edge"
		if form == print.FoldOver {
			how = "one side, then fold"
		}
		a.printf("%s and %s; print at actual size, %s\n", count(report.Cards, "card"), count(report.Spares, "spare"), how)
	}
	return nil
}

// printRuns writes one PDF a run and one of spares. Layouts are kept before any card goes out.
func (a *app) printRuns(folder *racefolder.Folder, race *sheetmodel.Race, o cardsOptions, form print.Form, out string, report *cardsReport) error {
	card, err := sheetmodel.GateCard().BindRace(race, o.paper, false)
	if err != nil {
		return err
	}
	spare, err := sheetmodel.GateCard().BindRace(race, o.paper, true)
	if err != nil {
		return err
	}
	var placements []print.Placement
	job := func(name, title string, stacks []print.Stack) error {
		path := filepath.Join(out, name)
		report.Files = append(report.Files, path)
		return writeFile(path, func(w io.Writer) error {
			p, err := print.Cards(w, print.Job{Title: title, Form: form, Created: a.now(), Stacks: stacks})
			placements = append(placements, p...)
			return err
		})
	}
	stacks := map[int][]print.Stack{} // by run
	for _, run := range race.Runs {
		if o.run != 0 && run.Number != o.run {
			continue
		}
		if stacks[run.Number], err = stacksOf(race, run, card, o.count); err != nil {
			return err
		}
	}
	if _, err := folder.SaveLayout(card); err != nil {
		return err
	}
	if err := folder.SavePrinted(numbersOf(stacks)...); err != nil {
		return err
	}
	for _, run := range race.Runs {
		if len(stacks[run.Number]) == 0 {
			continue
		}
		for _, s := range stacks[run.Number] {
			report.Cards += len(s.Cards)
		}
		if err := job(fmt.Sprintf("run-%d.pdf", run.Number), fmt.Sprintf("%s, run %d", race.Name, run.Number), stacks[run.Number]); err != nil {
			return err
		}
	}
	layouts := []*sheetmodel.Layout{card}
	if o.spares > 0 {
		if _, err := folder.SaveLayout(spare); err != nil {
			return err
		}
		base := print.CardPrint{Race: race.Name, Identity: sheetmodel.Identity{Race: sheetmodel.RaceHash(race.ID)}}
		stack := print.Stack{Layout: spare, Cards: print.Spares(base, racefolder.FirstSpare, racefolder.FirstSpare+o.spares-1)}
		report.Spares = o.spares
		if err := job("spares.pdf", race.Name+", spares", []print.Stack{stack}); err != nil {
			return err
		}
		layouts = append(layouts, spare)
	}
	report.Geometry = print.NewGeometry(layouts, placements)
	return nil
}

// defaultCards is the number of cards a course gets while its places aren't known: the usual number
// of judges and two more.
const defaultCards = 8

// stacksOf lists the cards of a run, course by course, numbers running on, all below those of spares.
func stacksOf(race *sheetmodel.Race, run sheetmodel.Run, layout *sheetmodel.Layout, count int) ([]print.Stack, error) {
	var stacks []print.Stack
	next := 1
	for i, course := range race.Courses {
		first, last := next, next+cmp.Or(count, defaultCards)-1
		if places := placesOf(race, run, course); len(places) > 0 && count == 0 {
			first, last = places[0].Card, places[0].Card
			for _, p := range places {
				first, last = min(first, p.Card), max(last, p.Card)
			}
		}
		if last >= racefolder.FirstSpare {
			return nil, fmt.Errorf("run %d, %s: its last card would be no. %d, and from %d on numbers belong to spares; print fewer cards a course with --count",
				run.Number, course, last, racefolder.FirstSpare)
		}
		next = last + 1
		base := print.CardPrint{
			Race: race.Name, Date: race.Date, Discipline: race.Discipline, Course: course,
			Identity: sheetmodel.Identity{Run: run.Number, Course: i + 1, Race: sheetmodel.RaceHash(race.ID)},
		}
		stacks = append(stacks, print.Stack{Layout: layout, Cards: print.Numbered(base, first, last)})
	}
	return stacks, nil
}

// numbersOf lists which numbers go out, by run and course.
func numbersOf(stacks map[int][]print.Stack) []racefolder.PrintedCards {
	var all []racefolder.PrintedCards
	for _, run := range slices.Sorted(maps.Keys(stacks)) {
		for _, s := range stacks[run] {
			p := racefolder.PrintedCards{Run: run}
			for _, c := range s.Cards {
				p.Course = c.Course
				p.Cards = append(p.Cards, c.Identity.Card)
			}
			all = append(all, p)
		}
	}
	return all
}

// placesOf returns the places of a run, or of another run while its own aren't known: only their
// number and card numbers are used, and those seldom change from run to run.
func placesOf(race *sheetmodel.Race, run sheetmodel.Run, course string) []sheetmodel.Place {
	if c := run.Course(course); c != nil && len(c.Places) > 0 {
		return c.Places
	}
	for i := range race.Runs {
		if c := race.Runs[i].Course(course); c != nil && len(c.Places) > 0 {
			return c.Places
		}
	}
	return nil
}

// writeFile writes a file of ours whole or not at all: beside it first, then in its place.
func writeFile(path string, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	if err != nil {
		return fmt.Errorf("%s: %w; check that its folder may be written", path, reasonOf(err))
	}
	defer func() {
		if err != nil {
			err = fmt.Errorf("%s: not written: %w; check free space and that nothing else has this name", path, reasonOf(err))
			_ = os.Remove(f.Name()) // what went wrong first is what counts
		}
	}()
	if err = write(f); err != nil {
		return errors.Join(err, f.Close())
	}
	if err = errors.Join(f.Chmod(0o644), f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

func layoutCommand(a *app) *cobra.Command {
	var race string
	c := &cobra.Command{
		Use:   "layout [FILE...]",
		Short: "Print where every field of a card lies, as JSON",
		Long: `Prints sides, fields, kinds, rectangles in millimetres and row numbers of layouts: of the
given layout files, of a race's folder with --race, or of the built-in cards. With the
placements of gatefold cards --json, any program can fill a card (schema: layout.schema.json).`,
		Args: cobra.ArbitraryArgs,
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) > 0 && race != "" {
				return usageErrorf("layout: give layout files or --race, not both")
			}
			var layouts []*sheetmodel.Layout
			switch {
			case len(args) > 0:
				for _, file := range args {
					data, err := readYAML("layout", file)
					if err != nil {
						return err
					}
					l, err := sheetmodel.ParseLayout(file, data)
					if err != nil {
						return err
					}
					layouts = append(layouts, l)
				}
			case race != "":
				folder, err := racefolder.Open(race)
				if err != nil {
					return err
				}
				own, err := folder.Layouts()
				if err != nil {
					return err
				}
				layouts = own
			default:
				layouts = sheetmodel.BuiltinLayouts()
			}
			return a.printJSON(print.NewGeometry(layouts, nil))
		},
	}
	c.Flags().StringVar(&race, "race", "", "the layouts that this race's cards were printed with")
	return c
}
