package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/sheetmodel/racefolder"
)

// forgetReport is what `gatefold forget --json` prints. It doesn't name the person.
type forgetReport struct {
	Format  int      `json:"format"`
	Done    bool     `json:"done"` // false: this is what would be removed
	Kinds   []string `json:"kinds"`
	Judges  int      `json:"places"`
	Racers  int      `json:"starters"`
	Rows    int      `json:"rows"`
	Photos  []string `json:"photos"`  // still show what is written on the person's cards
	Left    []string `json:"left"`    // files in which the name or number still stands
	Cleared bool     `json:"cleared"` // the database file holds it nowhere, free pages included
}

func forgetCommand(a *app) *cobra.Command {
	var by string
	var asJSON bool
	c := &cobra.Command{
		Use:   "forget RACE NAME",
		Short: "Remove a person's name and phone number from a race",
		Long: `Removes the name of a judge with the phone number, of a racer, or of somebody who worked at
the laptop, in any spelling, from race.yaml, the start list and the database, also from its
free pages. Bibs, calls and decisions stay; whoever typed becomes "person 1". A note stays
of what kind of data it was, who removed it and when.

Without --by it only says what it would remove. With --by it is done, and can't be undone.

Photos are never changed: what a judge wrote on a card can still be read there; those photos
are named. Archives, lists and copies made before are not reached. Close the desk first,
and join what another laptop has of the race: afterwards it can't be joined.`,
		Example: "  gatefold forget spring-race 'Ida Moss'\n  gatefold forget spring-race 'Ida Moss' --by 'race secretary'",
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			return a.forget(c.Context(), args[0], args[1], strings.TrimSpace(by), asJSON)
		},
	}
	c.Flags().StringVar(&by, "by", "", "remove it, and note that you did")
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON (schema: forget.schema.json)")
	return c
}

func (a *app) forget(ctx context.Context, dir, name, by string, asJSON bool) (err error) {
	who := look.Person(name)
	if !store.Telling(name) {
		return usageErrorf("%q is too short for a name; give all of it", name)
	}
	if by != "" && look.Person(by) == who {
		return usageErrorf("--by would leave the name in the note; give a role, such as 'race secretary'")
	}
	match := func(other string) bool { return other != "" && look.Person(other) == who }
	folder, err := racefolder.Open(dir)
	if err != nil {
		return err
	}
	lease, err := takeDeskLease(dir, a.now())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lease.Close()) }()
	report := forgetReport{Format: 1, Done: by != "", Kinds: []string{}, Photos: []string{}, Left: []string{}, Cleared: true}
	files, err := folder.Forget(match, true)
	if err != nil {
		return err
	}
	report.Judges, report.Racers = files.Judges, files.Racers
	words := append(files.Words, name)
	if by != "" {
		// Store and files are written one after the other: where that is cut off, this stays and is told about.
		if err = folder.BeginForget(racefolder.Forgetting{At: a.now().UTC(), By: by, Judges: files.Slots, Racers: files.Bibs}); err != nil {
			return err
		}
	}
	if hasStore(dir) || by != "" && len(fileKinds(files)) > 0 { // the note needs a place
		if words, err = a.forgetStored(ctx, dir, store.Forget{Match: match, Words: words, Cards: files.Cards, By: by, Try: by == ""}, files, &report); err != nil {
			return err
		}
	} else {
		report.Kinds = append(report.Kinds, fileKinds(files)...)
	}
	if by != "" {
		// Last: until here the cards of the judge could be found once more.
		if _, err = folder.Forget(match, false); err != nil {
			return err
		}
		ended, err := folder.EndForget()
		if err != nil {
			return err
		}
		if report.Left, report.Cleared, err = leftIn(dir, words); err != nil {
			return err
		}
		if !ended {
			a.complain(halfForgotten(folder))
		}
	}
	if asJSON {
		err = a.printJSON(report)
	} else {
		a.printForgotten(report, dir, name)
	}
	var left []error
	for _, file := range report.Left {
		left = append(left, fmt.Errorf("race %s: the name or number still stands in %s; take it out by hand", dir, file))
	}
	return together(err, refused(errors.Join(left...)))
}

// forgetStored removes the person from the database, and leaves the note there, also of what goes from files.
func (a *app) forgetStored(ctx context.Context, dir string, f store.Forget, files racefolder.Forgotten, report *forgetReport) (words []string, err error) {
	s, err := store.Open(ctx, dir, store.Options{Now: a.now})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	done, err := s.Forget(ctx, f)
	if err != nil {
		return nil, fmt.Errorf("race %s: %w", dir, err)
	}
	report.Kinds, report.Rows = append(report.Kinds, done.Kinds...), done.Rows
	report.Photos = append(report.Photos, done.Photos...)
	var more []string
	for _, kind := range fileKinds(files) {
		if !slices.Contains(report.Kinds, kind) {
			more = append(more, kind)
		}
	}
	report.Kinds = append(report.Kinds, more...)
	if len(more) > 0 && !f.Try {
		err = s.Note(ctx, more, f.By)
	}
	return done.Words, err
}

// fileKinds says in words what is in the race's own files.
func fileKinds(files racefolder.Forgotten) []string {
	var kinds []string
	if files.Judges > 0 {
		kinds = append(kinds, "a judge's name", "a phone number")
	}
	if files.Racers > 0 {
		kinds = append(kinds, "a racer's name")
	}
	return kinds
}

// leftIn looks for the words in every file of the race but photos and pages, also in the bytes of the database.
// It names files, and says whether the database is among them.
func leftIn(dir string, words []string) (left []string, cleared bool, err error) {
	left, cleared = []string{}, true
	words = slices.DeleteFunc(slices.Clone(words), func(w string) bool { return !store.Telling(w) })
	if len(words) == 0 {
		return left, cleared, nil
	}
	find := store.WordPattern(words)
	err = filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		if e.IsDir() {
			if rel == store.OriginalsName || rel == store.PagesName {
				return fs.SkipDir
			}
			return nil
		}
		if !e.Type().IsRegular() {
			return nil
		}
		holds, err := holdsAny(path, find)
		if err != nil || !holds {
			return err
		}
		left = append(left, rel)
		cleared = cleared && !strings.HasPrefix(rel, store.FileName)
		return nil
	})
	return left, cleared, err
}

// chunk is how much of a file is looked at at a time; two chunks overlap by more than any name.
const chunk, overlap = 1 << 20, 1 << 10

func holdsAny(path string, find *regexp.Regexp) (bool, error) {
	f, err := os.Open(path)
	if err != nil {
		return false, err
	}
	defer f.Close() //nolint:errcheck // only read
	var window []byte
	buffer := make([]byte, chunk)
	for {
		n, err := io.ReadFull(f, buffer)
		window = append(window, buffer[:n]...)
		// A byte that is no text parts words as a sign does.
		if find.Match(bytes.ToValidUTF8(window, []byte("\x00"))) {
			return true, nil
		}
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			return false, nil
		}
		if err != nil {
			return false, err
		}
		window = append(window[:0], window[max(0, len(window)-overlap):]...)
	}
}

func (a *app) printForgotten(r forgetReport, dir, name string) {
	if len(r.Kinds) == 0 {
		a.printf("%s: nobody of that name in the race's files or database\n", dir)
		return
	}
	verb := "would remove"
	if r.Done {
		verb = "removed"
	}
	a.printf("%s: %s %s: %s, %s, %s\n", dir, verb, strings.Join(r.Kinds, ", "), count(r.Judges, "place"), count(r.Racers, "starter"), count(r.Rows, "row"))
	for _, p := range r.Photos {
		a.printf("note: photo %.12s still shows what is written on a card of this person\n", p)
	}
	if r.Done {
		a.printf("a note of it stays, without the name; archives, lists and copies made before are not reached\n")
	} else {
		a.printf("nothing was changed; to remove it for good: gatefold forget %s %s --by 'who you are'\n", racefolder.ShellWord(dir), racefolder.ShellWord(name))
	}
}

// halfForgotten says that a removal was begun and not ended, where it stands and what to do; empty: there is none.
func halfForgotten(folder *racefolder.Folder) string {
	b, err := folder.Forgetting()
	if err != nil {
		return fmt.Sprintf("whether a person's data are half removed can't be told: %v", err)
	}
	if b == nil {
		return ""
	}
	words := "a removal of a person's data was cut off"
	if b.By != "" {
		words += fmt.Sprintf("; it was begun on %s by %s", b.At.Format(time.DateOnly), b.By)
	}
	for _, slot := range b.Judges {
		words += fmt.Sprintf("; a judge of card %d, run %d, %s", slot.Card.Card, slot.Card.Run, slot.Card.Course)
	}
	for _, bib := range b.Racers {
		words += "; racer " + strings.TrimSpace(bib.Group+" "+bib.Number)
	}
	words += ". Do it again with the same name: gatefold forget " + racefolder.ShellWord(folder.Dir) + " NAME --by 'who you are'. "
	if b.Elsewhere {
		words += "No file says where the person stood, so that nothing tells whose removal ends it: after that, "
	} else {
		words += "If that changes nothing, somebody else stands there by now: "
	}
	return words + "take " + racefolder.ForgettingFile + " out of the race folder"
}

// keepNotes says that people's data are kept too long, and what was removed.
func keepNotes(ctx context.Context, s *standing, now time.Time) ([]string, error) {
	var notes []string
	if late := racefolder.Overdue(s.folder.Race(), now); late != "" {
		notes = append(notes, late)
	}
	if half := halfForgotten(s.folder); half != "" {
		notes = append(notes, half)
	}
	forgets, err := s.store.Forgets(ctx)
	for _, f := range forgets {
		notes = append(notes, fmt.Sprintf("removed on %s by %s: %s", f.At.Format("2006-01-02"), f.By, f.Kinds))
	}
	return notes, err
}
