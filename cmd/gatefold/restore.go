package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"gatefold/review/archive"
	"gatefold/sheetmodel/racefolder"
)

// restoreReport is what `gatefold restore --json` prints.
type restoreReport struct {
	Format int `json:"format"`
	archive.Restored
}

func restoreCommand(a *app) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "restore ARCHIVE FOLDER",
		Short: "Make a working race again from a whole archive",
		Long: `Makes the race folder FOLDER from an archive that gatefold pack --full wrote, a folder or a zip: every photo bit
for bit, every reading and every decision, and the race's own files. First the archive is
verified; if one file in it isn't as it was packed, that file is named and nothing is made.
The archive is only read, and FOLDER must not be there yet.

An archive without names can't be restored: it lacks the race's own files.`,
		Example: "  gatefold restore archive-2027-01-23 race-again\n  gatefold restore archive.zip race-again",
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			done, err := archive.Restore(c.Context(), args[0], args[1], archive.RestoreOptions{
				Now: a.now, Each: func(n, of int) { a.progress("bringing file %d of %d", n, of) },
			})
			a.progressDone()
			if err != nil {
				return err
			}
			if asJSON {
				err = a.printJSON(restoreReport{Format: 1, Restored: done})
			} else {
				a.printf("made %s: %s, %s; look at it with gatefold status %s\n",
					args[1], count(done.Photos, "photo"), count(done.Decisions, "decision"), racefolder.ShellWord(args[1]))
			}
			var missing []error
			for _, file := range done.Missing {
				missing = append(missing, fmt.Errorf("race folder %s: the archive was made without %s; bring it back from a copy", args[1], file))
			}
			return together(err, refused(errors.Join(missing...)))
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON (schema: restore.schema.json)")
	return c
}
