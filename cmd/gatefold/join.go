package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"gatefold/cmd/internal/reading"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// joinReport is what `gatefold join --json` prints. It names fields and questions, no bib.
type joinReport struct {
	Format int `json:"format"`
	store.Joined
	Layouts []string `json:"layouts"` // of printed cards, taken over
	Differ  []string `json:"differ"`  // files of the race that are not the same in the two; not taken over
}

func joinCommand(a *app) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "join RACE OTHER",
		Short: "Take into a race what another copy of it holds",
		Long: `When two laptops went on with copies of one race, this takes into RACE what the copy in OTHER
has and RACE hasn't: photos, decisions, answers and places. Nothing in RACE is replaced, and
OTHER is only read. Done twice, it changes nothing more.

What was settled in both, and differently, counts in neither way: it waits on the page until
a person who has typed neither, or the judge, settles it. No clock and no order decides. An
entry is no longer unseen if its typist was shown the text on the other laptop.

race.yaml and its lists are never changed; those that differ are named. Close both desks
first. Join before anybody is forgotten: where that was done in one of the two since they
parted, nothing is taken over, for it would bring the name back.`,
		Example: "  gatefold join spring-race /media/stick/spring-race",
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			return a.join(c.Context(), args[0], args[1], asJSON)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON (schema: join.schema.json)")
	return c
}

func (a *app) join(ctx context.Context, dir, other string, asJSON bool) (err error) {
	for _, d := range []string{dir, other} { // both must be there: starting a new race is no remedy here
		if _, err := os.Stat(d); errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("race folder %s: there is none; check the name, and that the stick or disk it lies on is there; nothing was joined", d)
		}
	}
	theirs, err := racefolder.Open(other)
	if err != nil {
		return err
	}
	ours, err := racefolder.Open(dir)
	if err != nil {
		return err
	}
	switch {
	case isFolder(dir, other):
		return usageErrorf("%s and %s are the same folder; name the other copy", dir, other)
	case ours.Race().ID != theirs.Race().ID:
		return fmt.Errorf("race %s: %s is another race (%s, not %s); nothing was taken over", dir, other, theirs.Race().ID, ours.Race().ID)
	}
	lease, err := takeDeskLease(dir, a.now())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lease.Close()) }()
	if err = deskIsClosed(other); err != nil {
		return err
	}
	if half := halfForgotten(theirs); half != "" {
		a.complain(fmt.Sprintf("race %s: %s. Remove the same person from %s, too: what is joined may bring them back", other, half, dir))
	}
	report := joinReport{Format: 1, Layouts: []string{}}
	if report.Differ, err = differing(dir, other); err != nil {
		return err
	}
	if report.Layouts, err = takeLayouts(ours, theirs); err != nil {
		return err
	}
	s, err := a.openRace(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if report.Joined, err = a.joinStores(ctx, s.store, other); err != nil {
		return err
	}
	if err = a.tieJoined(ctx, s, dir); err != nil {
		return err
	}
	if asJSON {
		err = a.printJSON(report)
	} else {
		a.printJoined(report, dir, other)
	}
	var damaged []error
	for _, file := range report.Damaged {
		damaged = append(damaged, fmt.Errorf("race %s: %s is damaged or missing there; bring it back from a copy", other, file))
	}
	return together(err, refused(errors.Join(damaged...)))
}

// joinStores opens a copy of the other store, so that not a byte of it changes, and joins it.
func (a *app) joinStores(ctx context.Context, s *store.Store, other string) (done store.Joined, err error) {
	scratch, err := os.MkdirTemp("", "gatefold-join-*")
	if err != nil {
		return done, fmt.Errorf("race %s: %w; make room in the folder for temporary files", other, reasonOf(err))
	}
	defer func() { err = errors.Join(err, os.RemoveAll(scratch)) }()
	copied, err := store.OpenCopy(ctx, other, scratch, store.Options{Now: a.now})
	if errors.Is(err, store.ErrElsewhere) {
		return done, fmt.Errorf("race %s: %w: it is no copy that went on by itself; every computer that reaches that database works on the one race, and nothing is to be joined", other, err)
	}
	if errors.Is(err, store.ErrNotFound) {
		return done, fmt.Errorf("race %s: nothing was collected or settled there yet: it holds no %s", other, store.FileName)
	}
	if err != nil {
		return done, err
	}
	defer func() { err = errors.Join(err, copied.Close()) }()
	done, err = s.Join(ctx, copied)
	if errors.Is(err, store.ErrForgotten) {
		return done, fmt.Errorf("race %[1]s: nothing was taken over from %[2]s: %[3]w; join first, then forget. "+
			"Is there a copy of each from before? Join those, and forget there again. "+
			"Else keep %[2]s as it is, and type what it alone holds into %[1]s from the paper", s.Dir(), other, err)
	}
	if err != nil {
		return done, fmt.Errorf("race %s: nothing was taken over from %s: %w", s.Dir(), other, err)
	}
	return done, nil
}

// tieJoined reads the two writings of a row together where one side came from each copy. Without the image
// library that is left to the laptop that reads; such rows wait until then.
func (a *app) tieJoined(ctx context.Context, s *standing, dir string) error {
	sheets, err := s.store.Sheets(ctx)
	if err != nil || len(sheets) == 0 {
		return err
	}
	layouts, err := layoutsFor(dir, nil)
	if err != nil {
		return err
	}
	lost, err := lostLayouts(s.folder)
	if err != nil {
		return err
	}
	forms, err := raceFormsOf(s.folder, append(layouts, lost...))
	if errors.Is(err, reading.ErrNoImaging) {
		return nil
	}
	if err != nil {
		return err
	}
	in := &intake{dir: dir, folder: s.folder, lost: lost, race: s.folder.Race(), store: s.store}
	return in.tie(ctx, forms)
}

// deskIsClosed demands that no desk is open on a race that is only read.
func deskIsClosed(race string) error {
	f, err := os.Open(filepath.Join(race, deskLeaseName))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("race %s: %w", race, err)
	}
	defer f.Close() //nolint:errcheck // only read
	taken, err := lockFile(f)
	switch {
	case err != nil:
		return fmt.Errorf("race %s: %s can't be locked: %w; copy the race to a disk of this computer", race, deskLeaseName, err)
	case taken:
		return &deskTakenError{Race: race, Holder: readHolder(f)}
	}
	return nil
}

// differing names the files of the race, without the layouts, that are not the same in two folders.
func differing(dir, other string) ([]string, error) {
	names := []string{}
	for _, folder := range []string{dir, other} {
		for _, pattern := range []string{"*.yaml", "*.csv", racefolder.PrintedFile} {
			found, err := fs.Glob(os.DirFS(folder), pattern)
			if err != nil {
				return nil, err
			}
			for _, name := range found {
				if !slices.Contains(names, name) {
					names = append(names, name)
				}
			}
		}
	}
	slices.Sort(names)
	return slices.DeleteFunc(names, func(name string) bool {
		a, err1 := readInput("race file", filepath.Join(dir, filepath.FromSlash(name)))
		b, err2 := readInput("race file", filepath.Join(other, filepath.FromSlash(name)))
		return err1 == nil && err2 == nil && bytes.Equal(a, b)
	}), nil
}

// takeLayouts keeps the layouts that only the other copy has: its cards can't be shown without.
func takeLayouts(ours, theirs *racefolder.Folder) ([]string, error) {
	taken := []string{}
	have, err1 := ours.Layouts()
	all, err2 := theirs.Layouts()
	err := errors.Join(err1, err2)
	if err != nil {
		return nil, err
	}
	for _, l := range all {
		known := slices.ContainsFunc(have, func(h *sheetmodel.Layout) bool { return h.Hash() == l.Hash() })
		var path string
		switch {
		case marked(l) && known:
			continue
		case marked(l):
			path, err = ours.SaveLayout(l)
		default:
			path, err = takeForeign(ours, theirs, l, known)
		}
		if err != nil {
			return nil, err
		}
		if path != "" {
			taken = append(taken, racefolder.LayoutsFolder+"/"+filepath.Base(path))
		}
	}
	return taken, nil
}

// takeForeign keeps a layout of another make with the pictures of its blank sides, without which no photo at all could be read here
// any more. It returns no path where both are here already, or where the pictures are lost in both copies of a known layout.
func takeForeign(ours, theirs *racefolder.Folder, l *sheetmodel.Layout, known bool) (path string, err error) {
	if known {
		if _, err := ours.Blanks(l); err == nil {
			return "", nil
		}
	}
	blanks, err := theirs.Blanks(l)
	switch {
	case err != nil && known:
		return "", nil // as it was; whatever reads photos names it
	case err != nil:
		return "", fmt.Errorf("%w; nothing was joined", err)
	}
	return ours.SaveForeign(l, blanks)
}

func (a *app) printJoined(r joinReport, dir, other string) {
	if r.Changed() {
		a.printf("took over from %s: %s, %s, %s\n", other, count(r.Photos, "photo"), count(r.Decisions, "decision"), count(r.Records, "record"))
	} else {
		a.printf("%s holds nothing that is not in %s too\n", other, dir)
	}
	for _, l := range r.Layouts {
		a.printf("took over %s, with which cards were printed\n", l)
	}
	if r.Sighted > 0 {
		a.printf("%s typed by somebody who was shown the text on the other laptop: no longer unseen\n", count(r.Sighted, "entry"))
	}
	for _, d := range r.Disputes {
		a.printf("settled differently, waits: %s\n", disputeWords(d))
	}
	for _, name := range r.Differ {
		a.printf("note: %s is not the same in both, and stays as it is in %s; compare the two by hand\n", name, dir)
	}
	if len(r.Disputes) > 0 {
		a.printf("settle what waits with gatefold desk %s\n", racefolder.ShellWord(dir))
	}
}

// disputeWords says where to look, and not what was typed: whoever reads it may still have to type it unseen.
func disputeWords(d store.Dispute) string {
	card, field := d.Subject, ""
	if key, side, name, err := store.ParseKey(d.Subject); err == nil {
		card, field = store.CardName(key), fmt.Sprintf("%s %s", side, strings.ReplaceAll(name, ".", " "))
	}
	switch d.Kind {
	case store.DisputeReading:
		return card + ", " + field
	case store.DisputeAnswer:
		return "the answer to a question (" + d.Subject + ")"
	case store.DisputeBinding:
		return card + ", where it was used"
	case store.DisputeGap:
		return card + ", why it is missing"
	case store.DisputePaper:
		return card + ", how many rows stand on the paper"
	}
	return d.Subject
}

// disputeNotes are sentences for the status of a race that was joined.
func disputeNotes(st *stack.Stack) []string {
	var notes []string
	for _, d := range st.Disputes() {
		note := "settled differently in two copies of this race, waits: " + disputeWords(d)
		if !slices.Contains(notes, note) { // joined with a third copy, it may be a dispute once more
			notes = append(notes, note)
		}
	}
	return notes
}
