package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"gatefold/review"
	"gatefold/review/archive"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

func packCommand(a *app) *cobra.Command {
	var full, without, asJSON bool
	c := &cobra.Command{
		Use:   "pack RACE FOLDER",
		Short: "Put a race away as one folder that can be verified years later",
		Long: `Writes straightened sheets, one PDF of all sheets that can be searched, readings,
decisions, findings and the draft into a new folder (BagIt, RFC 8493) with a checksum for
every file and a README for someone who has no gatefold. Is FOLDER a name that ends in .zip, it
becomes one file. Nothing is overwritten: FOLDER must not be there yet, and not lie inside
the race folder. First every kept photo is checked: a damaged one is named and stops the
packing, unless --without-damaged leaves it out. The same race gives the same bytes.

As it is, the folder may be handed around: it has no photos (their checksums are listed), no
names of racers, judges and people at the laptop, no phone numbers and notes; the sheets are
black but for rows and drawings. With --full it holds everything, to keep: only such a folder can
become a race again.

Nothing is covered in it: it holds every reading, also of rows that somebody may still have
to type unseen. Who opens it must not type those; the command says how many there are.`,
		Example: "  gatefold pack demo/race to-the-league.zip\n  gatefold pack demo/race race-2027-01-23 --full",
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			if err := archive.Free(args[1], args[0]); err != nil {
				return err
			}
			return a.lookAt(c.Context(), args[0], func(s *standing, st *stack.Stack, result rules.Result) error {
				layouts, err := s.layouts()
				if err != nil {
					return err
				}
				lost := lostForms(st, layouts)
				if err := a.refuseDamaged(c.Context(), s, lost, without); err != nil {
					return err
				}
				at, err := lastKept(c.Context(), s, st.Race)
				if err != nil {
					return err
				}
				// Said before anything is written: whoever still has to type may want to do so first.
				if _, _, covered := review.Veil(st, result); covered > 0 && !asJSON {
					a.printf("note: %s may still have to be typed unseen, and the archive tells what was read there: who opens it must not type those\n", count(covered, "row"))
				}
				summary, err := archive.Write(c.Context(), args[1], archive.Input{
					Store: s.store, Folder: args[0], Stack: st, Result: result, At: at, Names: full, Layout: layouts, WithoutDamaged: without,
				})
				if err != nil {
					return err
				}
				if asJSON {
					err = a.printJSON(summary)
				} else {
					holds := count(summary.Originals, "photo") + " and all names: keep it close"
					if !full {
						holds = count(summary.Sheets, "sheet") + ", no photos and no names; look through its sheets once before you hand it around (--full keeps everything)"
					}
					a.printf("wrote %s with %s\ncheck it with gatefold verify %s, or in it with sha256sum -c manifest-sha256.txt\n"+
						"its own sum is %s\nnote that somewhere else: with it verify --sum tells this archive from any other, also from one made anew\n",
						args[1], holds, racefolder.ShellWord(args[1]), summary.Sum)
				}
				var left []error
				for _, form := range lost {
					left = append(left, fmt.Errorf("archive %s: %s", args[1], form))
				}
				for _, file := range summary.LeftOut {
					left = append(left, fmt.Errorf("archive %s: left out, for it is damaged or missing: %s", args[1], file))
				}
				return together(err, refused(errors.Join(left...)))
			})
		},
	}
	c.Flags().BoolVar(&full, "full", false, "with photos, names of racers and judges, clubs, phone numbers and notes: keep it close")
	c.Flags().BoolVar(&full, "names", false, "the same as --full")
	_ = c.Flags().MarkHidden("names") // the flag is there: it can't fail
	c.Flags().BoolVar(&without, "without-damaged", false, "leave out photos that are damaged or missing in the race folder, and say so in the archive")
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON (schema: pack.schema.json)")
	return c
}

// lastKept is when the last thing was kept in the race: an archive of the same race is the same whenever it is
// made. A race without anything kept has its own day.
func lastKept(ctx context.Context, s *standing, race *sheetmodel.Race) (time.Time, error) {
	at, err := s.store.Latest(ctx)
	if err != nil || !at.IsZero() {
		return at, err
	}
	zone, err := sheetmodel.LoadZone(race.Zone)
	if err != nil {
		return at, err
	}
	if at, err = time.ParseInLocation(time.DateOnly, race.Date, zone); err != nil {
		return time.Unix(0, 0).UTC(), nil //nolint:nilerr // a race without a day yet
	}
	return at, nil
}

// lostForms says which layouts the race folder lacks that its cards were printed with: without them no
// archive shows where on a page a row stands.
func lostForms(st *stack.Stack, layouts func(hash string) *sheetmodel.Layout) []string {
	var lost []string
	for _, c := range st.Cards {
		for _, s := range append([]*store.Sheet{c.Front, c.Back}, c.Other...) {
			if s == nil || s.Layout == "" || layouts(s.Layout) != nil {
				continue
			}
			name := fmt.Sprintf("layouts/%.12s.yaml: missing, though cards were printed with it; bring it back from a copy", s.Layout)
			if !slices.Contains(lost, name) {
				lost = append(lost, name)
			}
		}
	}
	return lost
}

// refuseDamaged reads every kept file before a long work begins. What is damaged is an error, and so is
// lost, unless it may be left out; a damaged database always is one.
func (a *app) refuseDamaged(ctx context.Context, s *standing, lost []string, leaveOut bool) error {
	damaged, err := a.damaged(ctx, s.store)
	if err != nil {
		return err
	}
	damaged = append(damaged, lost...)
	var errs []error
	for _, d := range damaged {
		if !leaveOut || strings.HasPrefix(d, store.FileName) {
			errs = append(errs, errors.New(d))
		}
	}
	if len(errs) == 0 {
		return nil
	}
	return errors.Join(append(errs, errors.New("nothing was packed; bring the files back from a copy (or collect the photos again: that also straightens damaged pages anew), "+
		"or pack the rest with --without-damaged"))...)
}

// damaged says which kept files of a race are no longer as they were, with progress.
func (a *app) damaged(ctx context.Context, s *store.Store) ([]string, error) {
	bad, err := s.VerifyFilesEach(ctx, func(n, of int) { a.progress("checking file %d of %d", n, of) })
	a.progressDone()
	if err != nil {
		return nil, err
	}
	photos, err := s.Photos(ctx)
	if err != nil {
		return nil, err
	}
	for i, sentence := range bad {
		for _, p := range photos {
			if rest, ok := strings.CutPrefix(sentence, p.File+": "); ok {
				bad[i] = fmt.Sprintf("photo %s (kept as %s): %s", p.Sent, p.File, rest)
			}
		}
	}
	return bad, nil
}

func verifyCommand(a *app) *cobra.Command {
	var asJSON bool
	var noted string
	c := &cobra.Command{
		Use:   "verify FOLDER",
		Short: "Check every file of an archive against its checksum",
		Long: `Reads every file of an archive that gatefold pack wrote, a folder or a zip, and names each one that is
missing, altered, broken or not listed. Nothing is changed.

That finds damage and careless changes. Whoever can change files can also make their checksums
anew, or the whole archive from a race that was changed: nothing inside it tells. So pack says
the archive's own sum. Noted where nobody changes it, on paper or in a message to the jury, it shows later
with --sum that this is the same archive, to the byte. Without gatefold: sha256sum tagmanifest-sha256.txt`,
		Example: "  gatefold verify race-2027-01-23\n  gatefold verify race.zip --sum '3f7a 09c1 55d2 e8b4'",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			var digits string
			if c.Flags().Changed("sum") {
				var err error
				if digits, err = archive.ParseSum(noted); err != nil {
					return fmt.Errorf("--sum: %w", err)
				}
			}
			verify := archive.Verify
			switch info, err := os.Stat(args[0]); {
			case err == nil && info.Mode().IsRegular() && archive.IsZip(args[0]):
				verify = archive.VerifyZip
			case err != nil || !info.IsDir():
				return fmt.Errorf("archive %s: there is no such folder or zip; name the one that gatefold pack wrote", args[0])
			}
			report, err := verify(args[0])
			if err != nil {
				return err
			}
			report.Compare(digits)
			if asJSON {
				if err := a.printJSON(report); err != nil {
					return err
				}
			}
			var errs []error
			for _, p := range report.Problems {
				errs = append(errs, fmt.Errorf("archive %s: %s", args[0], p))
			}
			if n := len(errs); n > 0 {
				errs = append(errs, fmt.Errorf("archive %s: not as it was packed: %s in %s; keep it, and compare with another copy",
					args[0], count(n, "problem"), count(report.Checked, "file")))
			}
			if len(errs) == 0 && !asJSON {
				a.printf("%s: %s, all as packed\n", args[0], count(report.Checked, "file"))
				if digits == "" {
					a.printf("its own sum is %s: is it the one that was noted when it was packed?\n", report.Sum)
				} else {
					a.printf("its own sum is the one that was noted\n")
				}
			}
			return refused(errors.Join(errs...))
		},
	}
	c.Flags().StringVar(&noted, "sum", "", "the archive's own sum as pack said it, or its first 16 digits or more")
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON (schema: verify.schema.json)")
	return c
}
