package main

import (
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"gatefold/review/archive"
)

func packCommand(a *app) *cobra.Command {
	var names, asJSON bool
	c := &cobra.Command{
		Use:   "pack RACE FOLDER",
		Short: "Put a race away as one folder that can be verified years later",
		Long: `Writes originals, straightened sheets, readings, decisions, findings and the draft into a
new folder (BagIt, RFC 8493) with a checksum for every file and a README for someone who
has no gatefold. Nothing is overwritten: FOLDER must not be there yet.

Names of racers and judges and phone numbers are left out of the data unless you ask for
them; photos keep what is written on them.`,
		Example: "  gatefold pack demo/race archive-2027-01-23",
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) (err error) {
			s, err := a.openRace(c.Context(), args[0])
			if err != nil {
				return err
			}
			defer func() { err = errors.Join(err, s.Close()) }()
			st, result, err := s.look(c.Context())
			if err != nil {
				return err
			}
			layouts, err := s.layouts()
			if err != nil {
				return err
			}
			in := archive.Input{Store: s.store, Stack: st, Result: result, At: a.now(), Names: names, Layout: layouts}
			summary, err := archive.Write(c.Context(), args[1], in)
			if err != nil {
				return err
			}
			if asJSON {
				return a.printJSON(summary)
			}
			a.printf("wrote %s; check it with gatefold verify %s, or there with sha256sum -c manifest-sha256.txt\n", args[1], args[1])
			return nil
		},
	}
	c.Flags().BoolVar(&names, "names", false, "with names of racers and judges, clubs and phone numbers: keep the folder close")
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON (schema: pack.schema.json)")
	return c
}

func verifyCommand(a *app) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "verify FOLDER",
		Short: "Check every file of an archive against its checksum",
		Long: `Reads every file of an archive that gatefold pack wrote and names each one that is
missing, altered, broken or not listed. Nothing is changed.`,
		Args: cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if info, err := os.Stat(args[0]); err != nil || !info.IsDir() {
				return fmt.Errorf("archive %s: there is no such folder; name the one that gatefold pack wrote", args[0])
			}
			report, err := archive.Verify(args[0])
			if err != nil {
				return err
			}
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
				errs = append(errs, fmt.Errorf("archive %s: not as it was packed: %d problems in %d files; keep it, and compare with another copy",
					args[0], n, report.Checked))
			}
			if len(errs) == 0 && !asJSON {
				a.printf("%s: %d files, all as they were packed\n", args[0], report.Checked)
			}
			return refused(errors.Join(errs...))
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON (schema: verify.schema.json)")
	return c
}
