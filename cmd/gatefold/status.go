package main

import (
	"fmt"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"gatefold/review"
	"gatefold/review/draft"
	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel/racefolder"
)

// statusReport is what `gatefold status --json` prints: numbers only, no bib and no name, so that
// whoever reads it can still type what waits without having seen it.
type statusReport struct {
	Format    int           `json:"format"`
	Race      string        `json:"race"`
	Photos    int           `json:"photos"`
	Refused   int           `json:"photos_refused"`
	Foreign   int           `json:"sides_of_other_race"` // of cards that were printed for another race; not used
	CardsIn   int           `json:"cards_in"`
	Cards     int           `json:"cards_expected"`
	Rows      int           `json:"rows"`
	Waiting   int           `json:"entries_waiting"` // fields that wait for a person and can change the draft
	NeedJudge int           `json:"waiting_for_judge"`
	Questions int           `json:"questions"` // of the rules and of photos, not answered
	Proposed  int           `json:"proposed"`
	CallsWait int           `json:"calls_waiting"` // lines that wait and other rows that wait, as the draft counts them
	SetAside  int           `json:"rows_set_aside"`
	Recorded  int           `json:"rows_recorded"`
	Complete  bool          `json:"complete"`
	Certain   int           `json:"certain_by_reader"` // bibs that need no person to be certain
	SpotDrawn int           `json:"spot_check_drawn"`  // of these, drawn by lot to be typed all the same
	SpotTyped int           `json:"spot_check_typed"`
	SpotWrong int           `json:"spot_check_wrong"` // typed otherwise than read, and not settled in favour of the reader
	Open      []openSection `json:"open"`
	rowsWait  int           // of CallsWait, those that are in no line
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
		RunE: func(c *cobra.Command, args []string) error {
			return a.lookAt(c.Context(), args[0], func(s *standing, st *stack.Stack, result rules.Result) error {
				r, err := statusOf(st, result, a.now())
				if err != nil {
					return err
				}
				if asJSON {
					return a.printJSON(r)
				}
				a.printStatus(r, args[0])
				for _, left := range s.folder.Sample() {
					a.printf("note: %s\n", sampleNote(left))
				}
				notes, err := keepNotes(c.Context(), s, a.now())
				if err != nil {
					return err
				}
				for _, note := range slices.Concat(notes, unreadNotes(st, args[0]), disputeNotes(st), foreignNotes(st), racefolder.Reused(s.folder.Race()), s.folder.Misprinted()) {
					a.printf("note: %s\n", note)
				}
				return nil
			})
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON (schema: status.schema.json)")
	return c
}

// unreadNotes says what was kept and waits for a reader.
func unreadNotes(st *stack.Stack, dir string) []string {
	n := 0
	for _, p := range st.Photos {
		if p.Fate == store.FateUnread {
			n++
		}
	}
	if n == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%s not read yet: gatefold work %s", count(n, "photo"), racefolder.ShellWord(dir))}
}

// statusOf counts what stands and what is open, the latter as the draft counts it.
func statusOf(st *stack.Stack, result rules.Result, at time.Time) (statusReport, error) {
	r := statusReport{Format: 1, Race: st.Race.Name, Photos: len(st.Photos), Foreign: len(st.Foreign), Rows: len(st.Rows), Open: []openSection{}}
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
	// What is open is counted behind the veil, as on the page: the number of lines or questions would tell whether
	// what somebody has just typed goes with what still has to be typed.
	shown, said, _ := review.Veil(st, result)
	for _, f := range said.Findings {
		if f.Question != nil && shown.Answers[f.Question.Key] == "" {
			r.Questions++
		}
	}
	for _, q := range st.Questions {
		if !q.Answered {
			r.Questions++
		}
	}
	r.Questions += st.UnnamedSides()
	spot := st.SpotCheck()
	r.Certain, r.SpotDrawn = spot.Certain, len(spot.Drawn)
	r.SpotTyped, r.SpotWrong = spot.Typed()
	full, err := draft.New(st, result, draft.Options{At: at})
	if err != nil {
		return r, err
	}
	d, err := draft.New(shown, said, draft.Options{At: at})
	if err != nil {
		return r, err
	}
	r.Complete = !full.Incomplete && !d.Incomplete
	for _, section := range d.Sections {
		r.Proposed, r.CallsWait = r.Proposed+section.Counts.Proposed, r.CallsWait+section.Counts.Waiting
		r.rowsWait += len(section.Rows)
		r.SetAside, r.Recorded = r.SetAside+section.Counts.SetAside, r.Recorded+section.Counts.Recorded
		if n := len(section.Incomplete); n > 0 {
			r.Open = append(r.Open, openSection{Run: section.Run, Course: section.Course, Reasons: n})
		}
	}
	return r, nil
}

func (a *app) printStatus(r statusReport, dir string) {
	a.printf("%s\n", r.Race)
	photos, cards := "no photos yet", fmt.Sprintf("%d of %s in", r.CardsIn, count(r.Cards, "card"))
	if r.Photos > 0 {
		photos = fmt.Sprintf("%s, %d refused", count(r.Photos, "photo"), r.Refused)
		cards += ", " + count(r.Rows, "row") + " with ink"
	}
	if r.Cards == 0 {
		cards = "no card is expected yet: write gates and places into race.yaml"
	}
	a.printf("  read       %s; %s\n", photos, cards)
	a.printf("  waits      %s for a person, %d of them for the judge; %s\n", count(r.Waiting, "entry"), r.NeedJudge, count(r.Questions, "question"))
	a.printf("  draft      %d proposed; %s and %s wait; %s set aside, %d only recorded\n", r.Proposed, count(r.CallsWait-r.rowsWait, "line"), count(r.rowsWait, "other row"), count(r.SetAside, "row"), r.Recorded)
	if !r.Complete {
		a.printf("             not complete: the page says why\n")
	}
	if r.SpotDrawn > 0 {
		a.printf("  spot check %d of %s certain without a person drawn; %d typed unseen, %d of them otherwise\n", r.SpotDrawn, count(r.Certain, "bib"), r.SpotTyped, r.SpotWrong)
	}
	a.printf("  the page   gatefold desk %s\n", racefolder.ShellWord(dir))
	a.printf("A draft for the referee: referee and jury decide under their own rule book.\n")
}
