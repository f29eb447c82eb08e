package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"gatefold/review/store"
	"gatefold/sheetmodel/racefolder"
)

// rescueReport is what `gatefold rescue --json` prints. It names readings, no bib.
type rescueReport struct {
	Format int    `json:"format"`
	Dir    string `json:"dir"`
	store.Rescued
}

func rescueCommand(a *app) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "rescue RACE FOLDER",
		Short: "Bring what is readable of a race with a damaged database into a new folder",
		Long: `When gatefold says that a race's database is damaged, and there is no newer copy, this makes the
race folder FOLDER of everything that can still be read: photos by their own bytes, and the
database page by page. RACE is only read. FOLDER must not be there yet.

It names what is lost: each broken page, each entry by its number and place. Nothing stands that
did not before: where an entry is lost that had replaced another, that other one waits again.
What was read from photos is read again by gatefold collect. It can't see damage inside a text
that leaves its page in shape; compare with the paper what matters.

It ends with exit code 3 if anything is lost.`,
		Example: "  gatefold rescue spring-race spring-race-again",
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			return a.rescue(c.Context(), args[0], args[1], asJSON)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON (schema: rescue.schema.json)")
	return c
}

func (a *app) rescue(ctx context.Context, dir, to string, asJSON bool) (err error) {
	if _, err := os.Stat(filepath.Join(dir, racefolder.RaceFile)); err != nil {
		return fmt.Errorf("race folder %s: holds no %s; name the race folder whose database is damaged", dir, racefolder.RaceFile)
	}
	to = filepath.Clean(to)
	if err := racefolder.NotThere(to); err != nil { // the desk is no reason then
		return err
	}
	if err := deskIsClosed(dir); err != nil {
		return err
	}
	report := rescueReport{Format: 1, Dir: to}
	err = racefolder.MakeNew(to, func(unfinished string) (err error) {
		a.progress("reading the database page by page")
		report.Rescued, err = store.Rescue(ctx, dir, unfinished, store.Options{Now: a.now})
		a.progressDone()
		if errors.Is(err, store.ErrElsewhere) {
			return fmt.Errorf("race %s: %w; bring that database back from its server's own backup", dir, err)
		}
		if errors.Is(err, store.ErrNotFound) {
			return fmt.Errorf("race %s: it holds no %s: nothing was collected or settled there yet, or the file is gone; "+
				"then make the race anew from its files and collect the photos in its folder %s", dir, store.FileName, store.OriginalsName)
		}
		if err != nil {
			return err
		}
		if err = copyRest(dir, unfinished); err != nil {
			return fmt.Errorf("race folder %s: %w", to, err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if asJSON {
		err = a.printJSON(report)
	} else {
		a.printRescued(report, dir)
	}
	return together(err, refused(lossOf(report, dir)))
}

// copyRest copies all of a race folder but what the store keeps and the desk's mark.
func copyRest(from, to string) error {
	return filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
		rel, relErr := filepath.Rel(from, path)
		if err = errors.Join(err, relErr); err != nil {
			return err
		}
		switch {
		case rel == store.OriginalsName || rel == store.PagesName:
			return fs.SkipDir
		case d.IsDir():
			return os.MkdirAll(filepath.Join(to, rel), 0o755)
		case !d.Type().IsRegular(), rel == deskLeaseName, strings.HasPrefix(rel, store.FileName):
			return nil
		}
		in, err := os.Open(path)
		if err != nil {
			return err
		}
		defer in.Close() //nolint:errcheck // only read
		return writeFile(filepath.Join(to, rel), func(w io.Writer) error {
			_, err := io.Copy(w, in)
			return err
		})
	})
}

func (a *app) printRescued(r rescueReport, dir string) {
	a.printf("made %s from %s: %s, %s; %s is as it was\n", r.Dir, dir, count(r.Kept["photos"], "photo"), count(r.Kept["decisions"], "decision"), dir)
	if r.Readable {
		a.printf("no page of the database was broken\n")
	}
	for _, p := range r.Broken {
		where := fmt.Sprintf("page %d of %d", p.Page, r.Pages)
		if p.Page == 0 {
			where = "its head"
		}
		a.printf("%s: %s: %s\n", store.FileName, where, p.Why)
	}
	if n := len(r.Anew); n > 0 {
		a.printf("%s taken in anew by their bytes; their names and times of arrival are lost\n", count(n, "photo"))
	}
	if n := len(r.Again) + len(r.Anew); n > 0 {
		word := racefolder.ShellWord(r.Dir)
		a.printf("next: read photos again: gatefold collect %s %s\n", word, racefolder.ShellWord(filepath.Join(r.Dir, store.OriginalsName)))
	}
	a.printf("next: gatefold desk %s\n", racefolder.ShellWord(r.Dir))
}

// lossOf names what is lost, a sentence each; nil if nothing is.
func lossOf(r rescueReport, dir string) error {
	var errs []error
	say := func(format string, args ...any) {
		errs = append(errs, fmt.Errorf("race %s: "+format, append([]any{dir}, args...)...))
	}
	other := map[string][]string{}
	var kinds []string
	for _, l := range r.Lost {
		switch {
		case l.Table == "readings": // repeated in what a reader said of the whole side
		case l.Table == "decisions" && l.What != "":
			say("decision %d is lost, of %s; it waits on the page again", l.ID, l.What)
		default:
			if other[l.Table] == nil {
				kinds = append(kinds, l.Table)
			}
			other[l.Table] = append(other[l.Table], fmt.Sprint(l.ID))
		}
	}
	slices.Sort(kinds)
	for _, k := range kinds {
		say("lost of %s: no. %s", strings.ReplaceAll(k, "_", " "), strings.Join(other[k], ", "))
	}
	if n := len(r.Unknown); n > 0 {
		say("%s lost, and no page tells of what kind: no. %s; look at what was settled around them, an older decision may stand in place of a lost one", count(n, "row"), spans(r.Unknown))
	}
	if r.NoEnd {
		say("no page tells how much was kept in all: more than is named may be lost; compare with the paper")
	}
	if n := len(r.TakenBack); n > 0 {
		say("%s taken back, because what replaced them or took them back is lost: no. %s", count(n, "decision"), spans(r.TakenBack))
	}
	for _, f := range r.Missing {
		say("%s is damaged or missing there", f)
	}
	if !r.Blind {
		say("what was shown to whom isn't known whole any more: those who worked there give no unseen look at what was there")
	}
	return errors.Join(errs...)
}

// spans writes numbers with those that follow each other as one: 3 to 7, 9.
func spans(ids []int64) string {
	var words []string
	for i := 0; i < len(ids); {
		j := i
		for j+1 < len(ids) && ids[j+1] == ids[j]+1 {
			j++
		}
		switch {
		case j > i+1:
			words = append(words, fmt.Sprintf("%d to %d", ids[i], ids[j]))
		default:
			for k := i; k <= j; k++ {
				words = append(words, fmt.Sprint(ids[k]))
			}
		}
		i = j + 1
	}
	return strings.Join(words, ", ")
}
