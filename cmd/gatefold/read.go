package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"gatefold/cmd/internal/reading"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

func readCommand(a *app) *cobra.Command {
	var asJSON, hints bool
	var race, blank string
	var layoutFiles []string
	c := &cobra.Command{
		Use:   "read PHOTO|FOLDER...",
		Short: "Read photos of cards and print what they say; nothing is kept",
		Long: `Straightens each photo, says which card and side it shows, and reads every field with
its certainty. Photos are only read, never changed, and nothing is kept: to add photos
to a race use gatefold collect. It prints all that was read: who looks at a race's card
so can't be the unseen second look at its rows.

Cards printed with the built-in layouts need nothing more. Cards of a race are read
with that race's layouts: name its folder with --race.

A card of another make, without our marks, is found by its own print: give its layout
with --layout and a picture of the blank card with --blank. Only that card is looked
for then, and nothing on it says which card, run and course it is: a person must.`,
		Example: "  gatefold read --race demo/race IMG_1234.jpg\n  gatefold read --json *.jpg > readings.json\n  gatefold read --layout card.yaml --blank card.pdf IMG_1235.jpg",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			forms, err := formsFor(c.Context(), race, blank, layoutFiles)
			if err != nil {
				return err
			}
			out := reading.Output{Format: 1, Photos: []reading.Photo{}}
			files, skipped, missing := photosIn(args)
			for _, s := range skipped {
				a.complain(s)
			}
			version, err := readAll(c.Context(), forms, reading.Options{Tesseract: hints}, filesAsNamed(files), func(p reading.Photo) error {
				out.Photos = append(out.Photos, p)
				if !asJSON {
					a.printPhoto(p)
				}
				return nil
			})
			if c.Context().Err() != nil {
				return err
			}
			// A file that isn't there fails the command; what the others say is printed all the same.
			out.Reader = version
			err = errors.Join(missing, err)
			if asJSON {
				err = errors.Join(err, a.printJSON(out))
			}
			return together(err, refusalsError(out.Photos))
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON (schema: read.schema.json)")
	c.Flags().StringVar(&race, "race", "", "read cards of the race in this folder as well")
	c.Flags().StringArrayVar(&layoutFiles, "layout", nil, "read cards printed with this layout file as well")
	c.Flags().StringVar(&blank, "blank", "", "picture of the blank card of --layout, where it has no marks of ours")
	c.Flags().BoolVar(&hints, "hints", false, "also try the free text of the header; slow, and never certain")
	return c
}

// formsFor prepares what photos are searched for: one card of another make, or all that is known here.
func formsFor(ctx context.Context, race, blank string, files []string) (*reading.Forms, error) {
	if blank != "" {
		if race != "" || len(files) != 1 {
			return nil, usageErrorf("read: --blank goes with one --layout, the card's own, and without --race")
		}
		return blankForms(ctx, files[0], blank)
	}
	layouts, err := layoutsFor(race, files)
	if err != nil {
		return nil, err
	}
	for i, l := range layouts {
		if i < len(files) && race == "" && !marked(l) {
			return nil, fmt.Errorf("layout %s: it has no marks of ours, so its photos are found by its print; give a picture of the blank card with --blank", files[i])
		}
	}
	if race == "" {
		return reading.Prepare(layouts)
	}
	folder, err := racefolder.Open(race)
	if err != nil {
		return nil, err
	}
	return raceFormsOf(folder, layouts)
}

// marked reports whether every side of a layout has our marks.
func marked(l *sheetmodel.Layout) bool {
	return !slices.ContainsFunc(l.Sides, func(s sheetmodel.Side) bool { return len(s.Marks) == 0 })
}

// blankForms prepares a card of another make by a picture of it.
func blankForms(ctx context.Context, file, blank string) (*reading.Forms, error) {
	l, err := readLayout(file)
	if err != nil {
		return nil, err
	}
	blanks, err := blanksOf(ctx, file, blank, l)
	if err != nil {
		return nil, err
	}
	forms, err := reading.PrepareBlank(l, blanks)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", blank, err)
	}
	return forms, nil
}

// layoutsFor returns the built-in layouts, those of the race, and those of files, each once.
func layoutsFor(race string, files []string) ([]*sheetmodel.Layout, error) {
	var all []*sheetmodel.Layout
	if race != "" {
		folder, err := racefolder.Open(race)
		if err != nil {
			return nil, err
		}
		own, err := folder.Layouts()
		if err != nil {
			return nil, err
		}
		all = append(all, own...)
	}
	for _, file := range files {
		data, err := readYAML("layout", file)
		if err != nil {
			return nil, err
		}
		l, err := sheetmodel.ParseLayout(file, data)
		if err != nil {
			return nil, err
		}
		all = append(all, l)
	}
	all = append(all, sheetmodel.BuiltinLayouts()...)
	seen := map[string]bool{}
	return slices.DeleteFunc(all, func(l *sheetmodel.Layout) bool {
		again := seen[l.Hash()]
		seen[l.Hash()] = true
		return again
	}), nil
}

// workers reads side by side: more than two gain nothing on the laptops this runs on.
const workers = 2

const (
	// mostAhead is how many photos may be read that nobody has taken yet: each holds its pages as pictures.
	mostAhead        = 2 * workers
	readingGCPercent = 25
)

// photoFile is a photo to be read: what a person calls it, and where its bytes lie.
type photoFile struct{ name, file string }

// filesAsNamed are photos that lie where a person said.
func filesAsNamed(files []string) []photoFile {
	all := make([]photoFile, 0, len(files))
	for _, f := range files {
		all = append(all, photoFile{name: filepath.Base(f), file: f})
	}
	return all
}

// readAll reads files in the order given and hands each photo to each, in that order.
func readAll(ctx context.Context, forms *reading.Forms, opt reading.Options, files []photoFile, each func(reading.Photo) error) (string, error) {
	type result struct {
		photo reading.Photo
		err   error
	}
	results := make([]chan result, len(files))
	for i := range results {
		results[i] = make(chan result, 1)
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var version string
	var next int
	var mu sync.Mutex
	take := func() int {
		mu.Lock()
		defer mu.Unlock()
		next++
		return next - 1
	}
	// What was prepared for reading is large and stays; a heap twice as large would be as much again for nothing.
	defer debug.SetGCPercent(debug.SetGCPercent(readingGCPercent))
	slots := make(chan struct{}, mostAhead)
	var group sync.WaitGroup
	for range min(readers(), len(files)) {
		r, err := reading.Open(forms, opt)
		if err != nil {
			cancel()
			group.Wait()
			return "", err
		}
		version = r.Version()
		group.Add(1)
		go func() {
			defer group.Done()
			defer r.Close() //nolint:errcheck // freeing nets
			for {
				select {
				case slots <- struct{}{}:
				case <-ctx.Done():
					return
				}
				i := take()
				if i >= len(files) {
					return
				}
				data, err := readInput("photo", files[i].file)
				if err != nil {
					results[i] <- result{err: err}
					continue
				}
				p, err := r.Read(ctx, files[i].name, data)
				results[i] <- result{photo: p, err: err}
			}
		}()
	}
	defer group.Wait()
	defer cancel()
	var errs []error
	for _, ch := range results {
		var r result
		select {
		case r = <-ch:
			<-slots
		case <-ctx.Done():
		}
		if ctx.Err() != nil {
			return version, ctx.Err()
		}
		if r.err != nil {
			errs = append(errs, r.err)
			continue
		}
		if err := each(r.photo); err != nil {
			return version, err
		}
	}
	return version, errors.Join(errs...)
}

// refusalsError joins one sentence for each refused photo, as: finished, but something was refused.
func refusalsError(photos []reading.Photo) error {
	var errs []error
	for _, p := range photos {
		if p.Refused != nil {
			errs = append(errs, fmt.Errorf("photo %s: %s", p.File, p.Refused))
		}
		for _, more := range p.More {
			errs = append(errs, fmt.Errorf("photo %s: a further card: %s", p.File, more))
		}
	}
	return refused(errors.Join(errs...))
}

// printPhoto prints what a person wants to see of a photo: which card, and each field with ink.
func (a *app) printPhoto(p reading.Photo) {
	if len(p.Cards) == 0 {
		a.printf("%s: refused\n", p.File)
	}
	for _, c := range p.Cards {
		a.printf("%s: %s\n", p.File, cardSentence(c))
		for _, f := range c.Quality.Flaws {
			a.printf("  %s\n", f)
		}
		a.printFields(c)
	}
}

func cardSentence(c reading.Card) string {
	if c.Plain {
		return fmt.Sprintf("%s of a card of another make, %s (%s): a person must say which one it is", c.Side, c.Layout.Name, c.Layout.Hash)
	}
	if c.Identity == nil {
		words := fmt.Sprintf("%s of a card whose printed identity can't be read", c.Side)
		if len(c.MayBe) > 0 {
			var names []string
			for _, l := range c.MayBe {
				names = append(names, fmt.Sprintf("%s on %s (%s)", l.Name, l.Paper, l.Hash))
			}
			words += "; it may be of layout " + strings.Join(names, " or ") + ": look at the card"
		}
		return words
	}
	return fmt.Sprintf("card %d, run %d, course no. %d, %s", c.Identity.Card, c.Identity.Run, c.Identity.Course, c.Side)
}

func (a *app) printFields(c reading.Card) {
	for _, f := range c.Fields {
		if f.State == sheetmodel.Empty && len(f.Reasons) == 0 {
			continue
		}
		text := f.Text
		if text == "" {
			text = "(ink)"
		}
		a.printf("  %-24s %-8s %-9s", f.Name, text, f.State)
		for i, r := range f.Reasons {
			sep := "; "
			if i == 0 {
				sep = " "
			}
			a.printf("%s%s", sep, r.Detail)
		}
		a.printf("\n")
	}
}
