package main

import (
	"fmt"
	"math"
	"strconv"

	"github.com/spf13/cobra"

	"gatefold/ocr/calib"
	"gatefold/review/stack"
	"gatefold/rules"
)

// fewestForBound is from how many bibs typed unseen a bound is worth saying: none of 100 wrong still allows 3 %.
const fewestForBound = 100

func spotCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "spot RACE...",
		Short: "Add up the spot checks of races: how often was a certain bib wrong",
		Long: `Lot draws a small share of the bibs that are certain without a person (spot_check in race.yaml, usually 2 %).
When the draft is out, somebody who hasn't seen it types them unseen; the draft page leads there.
One race shows counts and no rate. Over many races they bound how often a certain bib is wrong:
300 that all agree prove less than 1 % (Clopper-Pearson, one-sided, 95 %).`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			var all, drawn, typed, wrong int
			seen := map[string]string{}
			for _, dir := range args {
				err := a.lookAt(c.Context(), dir, func(_ *standing, st *stack.Stack, _ rules.Result) error {
					race := st.Race.ID + " of " + st.Race.Date
					if first, again := seen[race]; again {
						return fmt.Errorf("%s: race %s was counted already, from %s; name each race once", dir, race, first)
					}
					seen[race] = dir
					s := st.SpotCheck()
					t, w := s.Typed()
					a.printf("%-24s %5d certain, %3d drawn, %3d typed unseen, %2d otherwise\n", st.Race.Name, s.Certain, len(s.Drawn), t, w)
					all, drawn, typed, wrong = all+s.Certain, drawn+len(s.Drawn), typed+t, wrong+w
					return nil
				})
				if err != nil {
					return err
				}
			}
			if len(args) > 1 {
				a.printf("%-24s %5d certain, %3d drawn, %3d typed unseen, %2d otherwise\n", "together", all, drawn, typed, wrong)
			}
			if typed < fewestForBound {
				a.printf("Too few to say how often a certain bib is wrong; from %d on a bound is given.\n", fewestForBound)
				return nil
			}
			a.printf("A certain bib is wrong in at most %s %% (95 %% sure, if cards and judges are like these).\n", percentAtMost(calib.Upper(wrong, typed, 0.05)))
			return nil
		},
	}
}

// percentAtMost writes a bound in percent with one decimal, rounded up: rounded down it would be none.
func percentAtMost(share float64) string {
	return strconv.FormatFloat(math.Ceil(1000*share)/10, 'f', -1, 64)
}
