package main

import (
	"errors"

	"github.com/spf13/cobra"

	"gatefold/sheetmodel/racefolder"
)

func startCommand(a *app) *cobra.Command {
	var opts racefolder.StarterOptions
	c := &cobra.Command{
		Use:   "start FOLDER",
		Short: "Make a commented folder for a new race",
		Long: `Makes FOLDER with three files to fill in: race.yaml (date, groups, courses, and later gates,
judges and lists), startlist.csv (bib, name, club, group) and codes.yaml (the codes on your cards).
Every line that you may want to change is explained beside it. Nothing that is already there is touched:
if one of the files exists, nothing is written.`,
		Example: "  gatefold start spring-race",
		Args:    cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if opts.Date == "" {
				opts.Date = a.now().Format("2006-01-02")
			}
			files, err := racefolder.WriteStarter(args[0], opts)
			var wrong racefolder.OptionError
			if errors.As(err, &wrong) {
				return usageErrorf("%w", wrong)
			}
			if err != nil {
				return err
			}
			for _, f := range files {
				a.printf("wrote %s\n", f)
			}
			a.printf("next: fill them in, then run: gatefold race %s\n", racefolder.ShellWord(args[0]))
			return nil
		},
	}
	c.Flags().StringVar(&opts.Name, "name", "", "name of the race, as printed on the cards")
	c.Flags().StringVar(&opts.Date, "date", "", "day of the race, YYYY-MM-DD (default: today)")
	c.Flags().StringVar(&opts.Zone, "zone", "", "time zone of the hill, such as Europe/Vienna (default: UTC)")
	return c
}
