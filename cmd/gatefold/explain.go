package main

import (
	"errors"

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
explained for each of its racers.

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
			a.printf("%s\n", draft.Notice)
			for _, e := range d.ExplainAll(s.folder.Race(), sheetmodel.CanonicalBib(args[1]), group) {
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
