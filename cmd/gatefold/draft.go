package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"gatefold/review/draft"
)

func draftCommand(a *app) *cobra.Command {
	var out string
	var asJSON, uncovered bool
	var opt draft.Options
	c := &cobra.Command{
		Use:   "draft RACE",
		Short: "Draft the list of proposed disqualifications for the referee",
		Long: `Checks all rows of all cards together and writes what they propose, what still waits,
what was set aside, which cards are missing and which gates nobody's card covers.

It is a draft: referee and jury decide under their own rule book. A line stands only
where the bib was seen twice and both looks agree. Names of racers and judges and phone
numbers are left out unless you ask for them.

Like the page, it doesn't say what was read in a row that somebody may still have to type
unseen: whoever has read the answer can't be the second look at that row. With --uncovered
it says all; who reads that should type none of those rows afterwards.`,
		Example: "  gatefold draft demo/race\n  gatefold draft demo/race --out drafts      (PDF, CSV and JSON)",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) (err error) {
			s, err := a.openToLook(c.Context(), args[0])
			if err != nil {
				return err
			}
			defer func() { err = errors.Join(err, s.Close()) }()
			opt.At = a.now()
			d, covered, err := s.draft(c.Context(), opt, uncovered)
			if err != nil {
				return err
			}
			switch {
			case asJSON:
				return d.WriteJSON(a.out)
			case out != "":
				if err := a.writeDraft(d, s, out); err != nil {
					return err
				}
			default:
				a.printDraft(d)
			}
			if covered > 0 {
				a.printf("the bibs of %s are not shown: somebody may still have to type them unseen (--uncovered shows them)\n", count(covered, "row"))
			}
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&out, "out", "", "write draft.pdf, draft.csv and draft.json into this folder")
	f.BoolVar(&asJSON, "json", false, "print as JSON (schema: draft.schema.json)")
	f.BoolVar(&uncovered, "uncovered", false, "also say what waits: who reads it can't be the unseen second look at those rows")
	f.BoolVar(&opt.Names, "names", false, "with racers' names and clubs: often minors, keep the file close")
	f.BoolVar(&opt.Judges, "judges", false, "with judges' names")
	f.BoolVar(&opt.Phones, "phones", false, "with judges' phone numbers")
	return c
}

// writeDraft writes the three files. Pictures that can't be shown make an error, the files stay.
func (a *app) writeDraft(d *draft.Draft, s *standing, out string) error {
	if err := makeFolder(out); err != nil {
		return err
	}
	var pictures error
	files := []struct {
		name  string
		write func(io.Writer) error
	}{
		{"draft.pdf", func(w io.Writer) error { pictures = d.WritePDF(w, s.cutter()); return nil }},
		{"draft.csv", d.WriteCSV},
		{"draft.json", d.WriteJSON},
	}
	for _, f := range files {
		path := filepath.Join(out, f.name)
		if err := writeFile(path, f.write); err != nil {
			return err
		}
		a.printf("wrote %s\n", path)
	}
	return refused(pictures)
}

// printDraft prints the draft as a person at a terminal wants it: lines first, then what is open.
func (a *app) printDraft(d *draft.Draft) {
	a.printf("%s\n", draft.Notice)
	if d.Photos.Foreign > 0 {
		a.printf("note: %s of cards of another race, not used; gatefold status says more\n", count(d.Photos.Foreign, "side"))
	}
	for _, s := range d.Sections {
		heading := fmt.Sprintf("%s, run %d", s.Course, s.Run)
		if len(s.Incomplete) > 0 {
			heading += " (incomplete)"
		}
		a.printf("\n%s: %d of %d cards in\n", heading, s.Counts.CardsIn, s.Counts.CardsExpected)
		for _, l := range s.Proposed {
			a.printf("  proposed  bib %-4s gate %-4s %s  %s (%s)\n", strings.TrimSpace(l.Group+" "+l.Bib), l.Gate, l.Code, l.Meaning, draft.BasisWords(l.Basis))
		}
		for _, l := range s.Waiting {
			a.printf("  waiting   %s\n", strings.Join(l.WaitsFor, "; "))
		}
		a.printf("  %s set aside, %d only recorded\n", count(s.Counts.SetAside, "row"), s.Counts.Recorded)
		for _, why := range s.Incomplete {
			a.printf("  open      %s\n", why)
		}
	}
}
