package main

import (
	"errors"

	"github.com/spf13/cobra"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// statusReport is what `gatefold status --json` prints: numbers only, no bib and no name, so that
// whoever reads it can still type what waits without having seen it.
type statusReport struct {
	Format    int           `json:"format"`
	Race      string        `json:"race"`
	Photos    int           `json:"photos"`
	Refused   int           `json:"photos_refused"`
	CardsIn   int           `json:"cards_in"`
	Cards     int           `json:"cards_expected"`
	Rows      int           `json:"rows"`
	Waiting   int           `json:"entries_waiting"` // fields that wait for a person and can change the draft
	NeedJudge int           `json:"waiting_for_judge"`
	Questions int           `json:"questions"` // of the rules and of photos, not answered
	Proposed  int           `json:"proposed"`
	CallsWait int           `json:"calls_waiting"`
	SetAside  int           `json:"rows_set_aside"`
	Recorded  int           `json:"rows_recorded"`
	Complete  bool          `json:"complete"`
	Open      []openSection `json:"open"`
}

// openSection says how many reasons keep the draft of one run and course incomplete.
type openSection struct {
	Run     int    `json:"run"`
	Course  string `json:"course"`
	Reasons int    `json:"reasons"`
}

func statusCommand(a *app) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "status RACE",
		Short: "Say in a few lines what was read, what waits and what the draft holds",
		Args:  cobra.ExactArgs(1),
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
			r := statusReport{Format: 1, Race: st.Race.Name, Photos: len(st.Photos), Rows: len(st.Rows), Open: []openSection{}}
			for _, p := range st.Photos {
				if p.Fate == store.FateRefused {
					r.Refused++
				}
			}
			for _, card := range st.Cards {
				r.Cards++
				if card.In {
					r.CardsIn++
				}
			}
			for _, w := range st.Waiting(result) {
				r.Waiting++
				if w.Need == look.NeedJudge {
					r.NeedJudge++
				}
			}
			for _, f := range result.Findings {
				if f.Question != nil && st.Answers[f.Question.Key] == "" {
					r.Questions++
				}
			}
			for _, q := range st.Questions {
				if !q.Answered {
					r.Questions++
				}
			}
			for _, call := range result.Calls {
				if call.Waiting {
					r.CallsWait++
				} else {
					r.Proposed++
				}
			}
			for _, row := range result.Standings {
				switch row.Standing {
				case sheetmodel.StandsSetAside:
					r.SetAside++
				case sheetmodel.StandsInform:
					r.Recorded++
				case sheetmodel.StandsCall, sheetmodel.StandsWaiting:
				}
			}
			r.Complete = len(result.Incomplete) == 0
			for _, gap := range result.Incomplete {
				last := len(r.Open) - 1
				if last < 0 || r.Open[last].Run != gap.Run || r.Open[last].Course != gap.Course {
					r.Open = append(r.Open, openSection{Run: gap.Run, Course: gap.Course})
					last++
				}
				r.Open[last].Reasons++
			}
			if asJSON {
				return a.printJSON(r)
			}
			a.printStatus(r, args[0])
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON (schema: status.schema.json)")
	return c
}

func (a *app) printStatus(r statusReport, dir string) {
	a.printf("%s\n", r.Race)
	a.printf("  read       %d photos, %d refused; %d of %d cards in, %d rows with ink\n", r.Photos, r.Refused, r.CardsIn, r.Cards, r.Rows)
	a.printf("  waits      %d entries for a person, %d of them for the judge; %d questions\n", r.Waiting, r.NeedJudge, r.Questions)
	a.printf("  draft      %d proposed, %d waiting; %d rows set aside, %d only recorded\n", r.Proposed, r.CallsWait, r.SetAside, r.Recorded)
	if !r.Complete {
		a.printf("             not complete: the page says why\n")
	}
	a.printf("  the page   gatefold desk %s\n", dir)
	a.printf("A draft for the referee: referee and jury decide under their own rule book.\n")
}
