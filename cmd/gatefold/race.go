package main

import (
	"github.com/spf13/cobra"

	"gatefold/sheetmodel/racefolder"
)

func raceCommand(a *app) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "race FOLDER",
		Short: "Look a race folder over: what is known, what is still open",
		Long: `Reads the files of a race folder and says what is known: groups, starters, gates, judges' places,
lists, codes and rules; and what is still open. Nothing is changed. If the files hold mistakes, all
of them are named, each with its file and line and what to do.

The JSON holds no names and no phone numbers.`,
		Example: "  gatefold race spring-race\n  gatefold race spring-race --json",
		Args:    cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			folder, err := racefolder.Open(args[0])
			if err != nil {
				return err
			}
			report := reportRace(folder)
			kept, err := folder.Layouts()
			if err != nil {
				return err
			}
			if drift := racefolder.Drifted(folder.Race(), kept); drift != "" {
				report.Notes = append(report.Notes, drift)
			}
			report.Notes = append(report.Notes, racefolder.Reused(folder.Race())...)
			if late := racefolder.Overdue(folder.Race(), a.now()); late != "" {
				report.Notes = append(report.Notes, late)
			}
			report.Notes = append(report.Notes, folder.Misprinted()...)
			report.Notes = append(report.Notes, racefolder.Unread(folder.Race())...)
			if asJSON {
				return a.printJSON(report)
			}
			report.print(a)
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "write JSON, as in schema/race.schema.json")
	return c
}
