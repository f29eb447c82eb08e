package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"gatefold/cmd/internal/reading"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// rereadReport is what `gatefold reread --json` prints. It says of each place that it changes, never to what:
// whoever reads it may still have to type it unseen.
type rereadReport struct {
	Format    int            `json:"format"`
	Applied   bool           `json:"applied"` // false: this is what would change
	Reader    string         `json:"reader"`
	Photos    int            `json:"photos"`  // read by another version before
	Refused   []string       `json:"refused"` // accepted before, refused by this version: they stay as they were read
	Changes   []rereadChange `json:"changes"`
	Decisions int            `json:"decisions"` // all are kept
}

// rereadChange is one row whose standing changes.
type rereadChange struct {
	Run    int    `json:"run"`
	Course string `json:"course"`
	Card   int    `json:"card"`
	Row    int    `json:"row"`
	Before string `json:"before"`
	After  string `json:"after"`
}

func rereadCommand(a *app) *cobra.Command {
	var apply, asJSON bool
	c := &cobra.Command{
		Use:   "reread RACE",
		Short: "Read a race's photos again with this version, and say what would change",
		Long: `Reads the kept photos again that another version has read, on a copy, and says which rows would
stand otherwise. Nothing in the race is changed, unless you add --apply.

With --apply the new readings take the place of the old ones, which stay in the store. Every
decision stays: it hangs on the place on the paper, not on a reading. A photo that was accepted
and that this version would refuse, or in which it finds fewer cards, stays as it was read. Close
the desk first.`,
		Example: "  gatefold reread race-again\n  gatefold reread race-again --apply",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.reread(c.Context(), args[0], apply, asJSON)
		},
	}
	c.Flags().BoolVar(&apply, "apply", false, "let the new readings count")
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON (schema: reread.schema.json)")
	return c
}

func (a *app) reread(ctx context.Context, dir string, apply, asJSON bool) (err error) {
	folder, err := racefolder.Open(dir)
	if err != nil {
		return err
	}
	if !hasStore(dir) {
		return fmt.Errorf("race %s: no photo was collected yet", dir)
	}
	lease, err := takeDeskLease(dir, a.now())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lease.Close()) }()
	forms, lost, err := raceForms(folder)
	if err != nil {
		return err
	}
	var s *store.Store
	if apply {
		s, err = store.Open(ctx, dir, store.Options{Now: a.now})
	} else {
		scratch, errTemp := os.MkdirTemp("", "gatefold-reread-*")
		if errTemp != nil {
			return fmt.Errorf("race %s: %w; make room in the folder for temporary files", dir, reasonOf(errTemp))
		}
		defer func() { err = errors.Join(err, os.RemoveAll(scratch)) }()
		s, err = store.OpenSketch(ctx, dir, scratch, store.Options{Now: a.now})
		lost = nil // a layout is written into the race only if asked
	}
	if errors.Is(err, store.ErrElsewhere) {
		return fmt.Errorf("race %s: %w: there is no copy to try the new readings on; pack it, restore the archive and reread that, or add --apply", dir, err)
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	in := &intake{dir: dir, folder: folder, lost: lost, race: folder.Race(), store: s}
	if in.pages, err = pagesOf(ctx, s); err != nil {
		return err
	}
	report := rereadReport{Format: 1, Applied: apply, Refused: []string{}, Changes: []rereadChange{}}
	before, err := standings(ctx, in)
	if err != nil {
		return err
	}
	if err = a.readAgain(ctx, in, forms, &report); err != nil {
		return err
	}
	after, err := standings(ctx, in)
	if err != nil {
		return err
	}
	report.Changes = changesOf(before, after)
	decisions, err := s.Decisions(ctx)
	if err != nil {
		return err
	}
	report.Decisions = len(decisions)
	if asJSON {
		return a.printJSON(report)
	}
	a.printReread(report, dir)
	return nil
}

// readAgain reads the photos that another version read, and keeps what it finds in the intake's store.
func (a *app) readAgain(ctx context.Context, in *intake, forms *reading.Forms, report *rereadReport) error {
	opt := reading.Options{KeepPages: true, Header: true, AskForm: true, Judges: func() []string { return judgesOf(in.race) }}
	r, err := reading.Open(forms, opt)
	if err != nil {
		return err
	}
	report.Reader = r.Version()
	if err = r.Close(); err != nil {
		return err
	}
	photos, err := in.store.Photos(ctx)
	if err != nil {
		return err
	}
	before, err := in.store.Sheets(ctx)
	if err != nil {
		return err
	}
	sides := map[string]int{}
	for _, s := range before {
		sides[s.Photo]++
	}
	var old []photoFile
	was := map[string]store.Photo{}
	for _, p := range photos {
		if p.Reader != report.Reader {
			was[p.ID] = p
			old = append(old, photoFile{name: p.Sent, file: filepath.Join(in.dir, filepath.FromSlash(p.File))})
		}
	}
	if report.Photos = len(old); report.Photos == 0 {
		return nil
	}
	done := 0
	_, err = readAll(ctx, forms, opt, old, func(p reading.Photo) error {
		done++
		a.progress("reading photo %d of %d: %s", done, len(old), p.File)
		kept, known := was[p.SHA256]
		if !known {
			return fmt.Errorf("photo %s: is not what it was when it was collected; see gatefold doctor %s", p.File, racefolder.ShellWord(in.dir))
		}
		sheets, why := in.sheetsOf(p)
		// A side that is seen no more may hold a line through a row that an older photo shows without.
		if kept.Fate == store.FateAccepted && (why != nil || len(sheets) < max(sides[p.SHA256], 1)) {
			report.Refused = append(report.Refused, p.File)
			return nil
		}
		_, err := in.take(ctx, p)
		return err
	})
	a.progressDone()
	if err != nil {
		return err
	}
	return in.tie(ctx, forms)
}

// standings are all rows in words, by their place on the paper.
func standings(ctx context.Context, in *intake) (map[sheetmodel.RowRef]string, error) {
	st, err := stack.Load(ctx, in.race, in.store)
	if err != nil {
		return nil, err
	}
	result := rules.Check(st.Facts())
	all := map[sheetmodel.RowRef]string{}
	for _, r := range st.Rows {
		all[r.Ref] = "bib " + bibWords[r.BibState]
		if len(r.Nothing) > 0 {
			all[r.Ref] = "no writing"
		}
	}
	for _, row := range result.Standings {
		if _, there := all[row.Ref]; there {
			all[row.Ref] += ", row " + string(row.Standing)
		}
	}
	// Also a text that becomes another one, without saying which: it is compared by what it is, not shown.
	for _, r := range st.Rows {
		all[r.Ref] += "\x00" + strings.Join([]string{r.BibSeen.Seen.Text, r.Code.Seen.Text, r.Gate.Seen.Text}, "\x00")
	}
	return all, nil
}

var bibWords = map[sheetmodel.BibState]string{
	sheetmodel.BibTwoLooks: "seen twice", sheetmodel.BibOneLook: "seen once", sheetmodel.BibWaiting: "waits", sheetmodel.BibSetAside: "set aside",
}

// changesOf compares rows before and after, in the order of runs, courses, cards and rows.
func changesOf(before, after map[sheetmodel.RowRef]string) []rereadChange {
	changes := []rereadChange{}
	add := func(ref sheetmodel.RowRef, from, to string) {
		from, secretFrom, _ := strings.Cut(from, "\x00")
		to, secretTo, _ := strings.Cut(to, "\x00")
		if from == to && secretFrom != secretTo {
			to += ", read otherwise"
		}
		changes = append(changes, rereadChange{Run: ref.Run, Course: ref.Course, Card: ref.Card, Row: ref.Row, Before: from, After: to})
	}
	for ref, from := range before {
		if to, there := after[ref]; !there {
			add(ref, from, "no row")
		} else if from != to {
			add(ref, from, to)
		}
	}
	for ref, to := range after {
		if _, there := before[ref]; !there {
			add(ref, "no row", to)
		}
	}
	slices.SortFunc(changes, func(a, b rereadChange) int {
		return strings.Compare(fmt.Sprintf("%03d %s %06d %03d", a.Run, a.Course, a.Card, a.Row), fmt.Sprintf("%03d %s %06d %03d", b.Run, b.Course, b.Card, b.Row))
	})
	return changes
}

func (a *app) printReread(r rereadReport, dir string) {
	if r.Photos == 0 {
		a.printf("%s: every photo was read by this version; nothing to do\n", dir)
		return
	}
	would, stays := "would change", "nothing was changed; to let the new readings count: gatefold reread "+racefolder.ShellWord(dir)+" --apply"
	if r.Applied {
		would, stays = "changed", "every decision is kept; see gatefold desk "+racefolder.ShellWord(dir)
	}
	a.printf("%s: %s read again; %s %s\n", dir, count(r.Photos, "photo"), count(len(r.Changes), "row"), would)
	for _, c := range r.Changes {
		a.printf("  run %d, %s, card %d, row %d: %s -> %s\n", c.Run, c.Course, c.Card, c.Row, c.Before, c.After)
	}
	for _, name := range r.Refused {
		a.printf("  photo %s: this version would refuse it, or a card in it; it stays as it was read\n", name)
	}
	a.printf("%s\n", stays)
}
