package main

import (
	"errors"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"gatefold/review/draft"
	"gatefold/sheetmodel"
)

func explainCommand(a *app) *cobra.Command {
	var group string
	c := &cobra.Command{
		Use:   "explain RACE BIB",
		Short: "Say step by step why a bib is on the draft list, or isn't",
		Long: `Says for one bib what the start list knows of it, which rows name it and what became of each,
what the cards say together, and what can still change the answer. A number that two groups wear is
explained for each of its racers; "girls 7" names one of them.

A row whose bib may still have to be typed unseen is only counted: nobody is told what it may say.`,
		Example: "  gatefold explain demo/race 14\n  gatefold explain demo/race 7 --group girls",
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) (err error) {
			s, err := a.openToLook(c.Context(), args[0])
			if err != nil {
				return err
			}
			defer func() { err = errors.Join(err, s.Close()) }()
			d, _, err := s.draft(c.Context(), draft.Options{At: a.now()}, false)
			if err != nil {
				return err
			}
			bib, group, err := racerNamed(s.folder.Race(), args[1], group)
			if err != nil {
				return err
			}
			a.printf("%s\n", draft.Notice)
			for _, e := range d.ExplainAll(s.folder.Race(), bib, group) {
				a.printExplanation(e)
			}
			return nil
		},
	}
	c.Flags().StringVar(&group, "group", "", "of which group, where two groups share numbers")
	return c
}

func (a *app) printExplanation(e draft.Explanation) {
	a.printf("Bib %s. %s\n", e.Who(), e.Known)
	for _, p := range e.Parts {
		a.printf("\n%s\n  %s\n", p.Where, p.Answer)
		for _, r := range p.Rows {
			a.printf("  %s\n", r.Words)
			for _, l := range r.Looks {
				a.printf("    look   %s\n", l)
			}
			if r.Why != "" {
				a.printf("    so     %s\n", r.Why)
			}
		}
		for _, s := range p.Said {
			a.printf("  cards  %s\n", s)
		}
		for _, o := range p.Open {
			a.printf("  open   %s\n", o)
		}
	}
	if len(e.Parts) == 0 {
		a.printf("No card says anything of it.\n")
	}
}

// racerNamed takes a racer as the lists write it: "14", or "girls 14" where bibs come in groups. A number is the
// start list's own with or without zeros in front, if the list has only one such number.
func racerNamed(race *sheetmodel.Race, text, group string) (bib, of string, err error) {
	text = strings.Join(strings.Fields(text), " ")
	for _, g := range race.Groups {
		rest, begins := strings.CutPrefix(strings.ToLower(text), strings.ToLower(g.Name)+" ")
		if begins && group == "" {
			text, group = rest, g.Name
		}
	}
	bib = sheetmodel.CanonicalBib(text)
	if bib == "" {
		return "", "", errors.New("no bib is named; write it as on the start list, such as 14")
	}
	var alike []string
	for _, s := range race.Starters {
		if s.Number == bib {
			return bib, group, nil
		}
		if strings.TrimLeft(s.Number, "0") == strings.TrimLeft(bib, "0") && !slices.Contains(alike, s.Number) {
			alike = append(alike, s.Number)
		}
	}
	if len(alike) == 1 {
		bib = alike[0]
	}
	return bib, group, nil
}
