package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"gatefold/review"
	"gatefold/review/draft"
	"gatefold/review/jury"
	"gatefold/review/store"
	"gatefold/rules"
)

func packetCommand(a *app) *cobra.Command {
	var group, out, course, allowedBy string
	var run int
	var asJSON, coach bool
	var opt draft.Options
	c := &cobra.Command{
		Use:   "packet RACE BIB",
		Short: "Put together what the jury needs for one bib, or the sheet to show a coach",
		Long: `Gathers for one bib each row with its ink and drawing, the gates as its judge set them, the place
on the course, the other cards that saw the racer or should have, what was read, which looks the bib
has, who settled what and when, the article by number, what was made public and protested, and room
for the jury's decision. Referee and jury enter what they decide on the desk's page of the packet;
the list changes with it, and everything stays in the log.

With --coach: one sheet for one line, to show before a protest. Other racers' bibs, the judge's name
and remarks are black on the pictures. Only the referee may allow it: --allowed-by says who did, and
that is kept.

Like the draft, a packet doesn't say what may still have to be typed unseen.`,
		Example: "  gatefold packet demo/race 14 --out packet-14.pdf\n  gatefold packet demo/race 14 --coach --allowed-by 'the referee' --out coach-14.pdf",
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) (err error) {
			switch {
			case coach && out == "":
				return errors.New("--coach needs --out FILE.pdf: the sheet is a picture")
			case coach && strings.TrimSpace(allowedBy) == "":
				return errors.New("--coach needs --allowed-by: only the referee may allow that a coach is shown a row; write who did")
			case coach && asJSON || !coach && allowedBy != "":
				return errors.New("--allowed-by belongs to --coach, and --json doesn't")
			}
			s, err := a.openToLook(c.Context(), args[0])
			if err != nil {
				return err
			}
			defer func() { err = errors.Join(err, s.Close()) }()
			bib, group, err := racerNamed(s.folder.Race(), args[1], group)
			if err != nil {
				return err
			}
			if opt.Layout, err = s.layouts(); err != nil {
				return err
			}
			if coach {
				return a.coachSheet(c.Context(), s, jury.Line{Run: run, Course: course, Group: group, Bib: bib}, opt, allowedBy, out)
			}
			st, result, err := s.look(c.Context())
			if err != nil {
				return err
			}
			shown, said, _ := review.Veil(st, result)
			opt.At = a.now()
			k, err := draft.NewPacket(shown, said, opt, bib, group)
			switch {
			case err != nil:
				return err
			case asJSON:
				return k.WriteJSON(a.out)
			case out != "":
				var pictures error
				if err := writeFile(out, func(w io.Writer) error { pictures = k.WritePDF(w, s.cutter()); return nil }); err != nil {
					return err
				}
				a.printf("wrote %s\n", out)
				return refused(pictures)
			}
			a.printPacket(k)
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&group, "group", "", "of which group, where two groups share numbers")
	f.StringVar(&out, "out", "", "write a PDF to this file")
	f.BoolVar(&asJSON, "json", false, "print as JSON (schema: packet.schema.json)")
	f.BoolVar(&opt.Judges, "judges", false, "with judges' names")
	f.BoolVar(&opt.Names, "names", false, "with the racer's name and club: often a minor's, keep the file close")
	f.BoolVar(&coach, "coach", false, "the sheet to show a coach instead")
	f.StringVar(&allowedBy, "allowed-by", "", "who allowed it, kept in the log (with --coach)")
	f.IntVar(&run, "run", 0, "which run, where the bib has a line in both (with --coach)")
	f.StringVar(&course, "course", "", "which course, where the bib has a line on both (with --coach)")
	return c
}

// coachSheet keeps the referee's leave, then writes the sheet; that it was made is logged before it is.
func (a *app) coachSheet(ctx context.Context, s *standing, at jury.Line, opt draft.Options, allowedBy, out string) error {
	st, result, err := s.look(ctx)
	if err != nil {
		return err
	}
	line, err := oneLine(result, at)
	if err != nil {
		return err
	}
	_, said, _ := review.Veil(st, result)
	c, ok := draft.CoachLine(said, line)
	if !ok {
		return draft.ErrNoLine
	}
	leave := jury.Coach{Allowed: true, Gate: c.Gate, Code: c.Code}
	if err := s.store.Answer(ctx, store.Answer{Question: jury.Key(line, leave), Value: jury.Value(leave), By: allowedBy}); err != nil {
		return err
	}
	if st, result, err = s.look(ctx); err != nil {
		return err
	}
	shown, said, _ := review.Veil(st, result)
	opt.At = a.now()
	k, err := draft.NewCoach(shown, said, opt, line)
	if err != nil {
		return err
	}
	given := jury.Shown{At: k.At, As: out}
	if err := s.store.Answer(ctx, store.Answer{Question: jury.Key(line, given), Value: jury.Value(given), By: allowedBy}); err != nil {
		return err
	}
	var pictures error
	if err := writeFile(out, func(w io.Writer) error { pictures = k.WritePDF(w, s.cutter()); return nil }); err != nil {
		return err
	}
	a.printf("wrote %s; allowed by %s, which is kept\n", out, allowedBy)
	return refused(pictures)
}

// oneLine finds the one line that stands of a bib.
func oneLine(result rules.Result, at jury.Line) (jury.Line, error) {
	var found []jury.Line
	for _, c := range result.Calls {
		if c.Bib == at.Bib && (!c.Waiting || c.Overruled) && (at.Group == "" || c.Group == at.Group) && (at.Run == 0 || c.Run == at.Run) && (at.Course == "" || c.Course == at.Course) {
			if l := (jury.Line{Run: c.Run, Course: c.Course, Group: c.Group, Bib: c.Bib}); !slices.Contains(found, l) {
				found = append(found, l)
			}
		}
	}
	switch len(found) {
	case 0:
		return at, fmt.Errorf("bib %s: no line of the draft that stands is about it; gatefold explain says why", at.Bib)
	case 1:
		return found[0], nil
	}
	return at, fmt.Errorf("bib %s: %d lines of the draft are about it; say which with --run, --course or --group", at.Bib, len(found))
}

func (a *app) printPacket(k *draft.Packet) {
	a.printf("%s\nPacket for bib %s. %s\n", k.Notice, k.Who(), k.Known)
	for _, c := range k.Cases {
		status := c.Status
		switch status {
		case "":
			status = "no line of the draft"
		case draft.StatusGone:
			status = "not in the draft any more"
		}
		a.printf("\n%s · run %d: %s\n", c.Course, c.Run, status)
		if c.Line != nil {
			a.printf("  gate %s, %s, %s (%s)\n", c.Line.Gate, c.Line.Code, c.Line.Meaning, draft.BasisWords(c.Line.Basis))
			for _, w := range c.Line.WaitsFor {
				a.printf("  waits  %s\n", w)
			}
			for _, w := range c.Line.Jury.Words() {
				a.printf("  jury   %s\n", w)
			}
		}
		for _, f := range c.Faults {
			a.printf("  card %d, row %d\n", f.Row.Card, f.Row.Row)
			for _, w := range f.Words() {
				a.printf("    %s\n", w)
			}
		}
		for _, w := range c.Said {
			a.printf("  cards  %s\n", w)
		}
		for _, w := range c.Open {
			a.printf("  open   %s\n", w)
		}
	}
	if len(k.Cases) == 0 {
		a.printf("No row of a card that is in names it with certainty.\n")
		for _, w := range k.Open {
			a.printf("  open   %s\n", w)
		}
	}
}
