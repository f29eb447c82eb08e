package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"runtime/debug"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"gatefold/cmd/internal/reading"
	"gatefold/review/store"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// collectReport is what `gatefold collect --json` prints.
type collectReport struct {
	Format  int             `json:"format"`
	Race    string          `json:"race"`
	Reader  string          `json:"reader"`
	Photos  []collectedFile `json:"photos"`
	Kept    int             `json:"kept"`                // photos read and kept
	Known   int             `json:"known"`               // photos that were there before
	Refused int             `json:"refused"`             // kept as originals, but not used
	Foreign int             `json:"sides_of_other_race"` // of all photos that are kept, also from before
}

type collectedFile struct {
	File    string   `json:"file"`
	SHA256  string   `json:"sha256"`
	Known   bool     `json:"known"`
	Cards   []string `json:"cards"` // as in "Blue, run 1, card 4, front"
	Refused *refusal `json:"refused,omitempty"`
	// Flaws are what the photo lacks for some entries; it is kept, and they are asked.
	Flaws []collectedFlaw `json:"flaws,omitempty"`
	// SameAs is an earlier photo with the same pixels in other bytes.
	SameAs string   `json:"same_picture_as,omitempty"`
	forks  []string // of Cards: those that were read as several forms
}

type collectedFlaw struct {
	Card string `json:"card"` // one of Cards
	reading.Flaw
}

// refusal is here so that the schema of this command stands by itself.
type refusal = reading.Refusal

func collectCommand(a *app) *cobra.Command {
	var watch bool
	var opt collectOptions
	c := &cobra.Command{
		Use:   "collect RACE PHOTO|FOLDER...",
		Short: "Add photos of cards to a race: keep the originals, read them, tie both sides together",
		Long: `Keeps every photo's original in the race folder, unchanged, before anything else; then
reads it. Of a folder, all its photos are taken, in the order of their names. A photo
that can't be trusted is refused with the reason and what to do, and its original is kept
all the same. Photos that are there already are not read twice, unless they were refused.

With --watch it goes on and collects every photo that is put into the folders or into
folders in them, by a cable, a card or a program that syncs; one that is still being
written is waited for. The interrupt key (Ctrl-C) ends it.

With --later the originals are kept and nothing is read: gatefold work RACE reads them, in
as many programs side by side as you start.

What was read waits on the page (gatefold desk RACE) for what only a person can settle.`,
		Example: "  gatefold collect demo/race photos\n  gatefold collect demo/race IMG_1234.jpg IMG_1235.jpg\n  gatefold collect demo/race --watch phone",
		Args:    cobra.MinimumNArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			if !watch {
				if opt.later && opt.asJSON {
					return usageErrorf("--later reads nothing that could be told; leave --json out")
				}
				return a.collect(c.Context(), args[0], args[1:], opt)
			}
			if opt.asJSON {
				return usageErrorf("--watch says what it does as it goes; leave --json out")
			}
			if err := checkFolders(args[1:]); err != nil {
				return err
			}
			return a.collectWatching(c.Context(), args[0], args[1:], lookEvery, func(files []string) error {
				return a.collect(c.Context(), args[0], files, opt)
			})
		},
	}
	c.Flags().BoolVar(&opt.asJSON, "json", false, "print as JSON (schema: collect.schema.json)")
	c.Flags().BoolVar(&watch, "watch", false, "go on, and collect what is put into the folders")
	c.Flags().BoolVar(&opt.later, "later", false, "keep the originals now; gatefold work reads them")
	c.Flags().BoolVar(&opt.timing, "timing", false, "say on standard error when the first photo was ready")
	return c
}

// collectOptions are how photos are collected.
type collectOptions struct{ asJSON, timing, later bool }

func (a *app) collect(ctx context.Context, dir string, files []string, opt collectOptions) (err error) {
	began := a.now()
	// Also after readAll: at the end all that was read from the race lies side by side.
	defer debug.SetGCPercent(debug.SetGCPercent(readingGCPercent))
	folder, err := racefolder.Open(dir)
	if err != nil {
		return err
	}
	var forms *reading.Forms
	var lost []*sheetmodel.Layout
	if !opt.later { // to keep takes no reader: it may be on another computer
		if forms, lost, err = raceForms(folder); err != nil {
			return err
		}
	}
	s, err := store.Open(ctx, dir, store.Options{Now: a.now})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	pages, err := pagesOf(ctx, s)
	if err != nil {
		return err
	}
	in := &intake{dir: dir, folder: folder, lost: lost, race: folder.Race(), store: s, pages: pages}
	report := collectReport{Format: 1, Race: folder.Race().Name, Photos: []collectedFile{}}

	// Originals first: whatever happens while reading, no photo is lost.
	var fresh []photoFile
	files, skipped, err := photosIn(files)
	errs := []error{err}
	for _, s := range skipped {
		a.complain(s)
	}
	there := map[string]bool{} // by SHA-256: which of the photos were in the race before
	unread := map[string]bool{}
	for _, file := range files {
		if isFolder(filepath.Dir(file), filepath.Join(dir, store.PagesName)) {
			errs = append(errs, fmt.Errorf("photo %s: is no photo but a page that gatefold straightened; collect the photo that it was made from", file))
			continue
		}
		kept, known, err := in.keep(ctx, file)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		if _, again := there[kept.ID]; again {
			continue // named twice on this command line, perhaps under two names
		}
		there[kept.ID] = known
		unread[kept.ID] = kept.Fate == store.FateUnread
		spoilt := known && pages.spoilt(kept.ID)
		if spoilt {
			a.complain(fmt.Sprintf("photo %s: the page that was straightened from it is damaged or missing; it is straightened again", filepath.Base(file)))
		}
		if known && kept.Fate == store.FateAccepted && !spoilt {
			report.Known++
			report.Photos = append(report.Photos, collectedFile{File: kept.Sent, SHA256: kept.ID, Known: true, Cards: []string{}})
			continue
		}
		// One that was refused is looked at again: its layout may be here by now, or a better reader.
		// The kept original is read, not the file that was sent: a card may be pulled out by now, and a file
		// may have grown.
		fresh = append(fresh, photoFile{name: filepath.Base(file), file: filepath.Join(dir, filepath.FromSlash(kept.File))})
	}
	if opt.later {
		a.keptForLater(dir, fresh, unread)
		return errors.Join(errs...)
	}
	done := 0
	var refusals []error
	version, err := readAll(ctx, forms, reading.Options{KeepPages: true, Header: true, AskForm: true, Judges: func() []string { return judgesOf(in.race) }}, fresh, func(p reading.Photo) error {
		done++
		a.progress("reading photo %d of %d: %s", done, len(fresh), p.File)
		var guards []store.Guard
		if unread[p.SHA256] {
			guards = []store.Guard{store.Unread(p.SHA256)}
		}
		got, err := in.take(ctx, p, guards...)
		if errors.Is(err, store.ErrReadMeanwhile) { // a worker or the desk was faster, and says what it found
			report.Known++
			report.Photos = append(report.Photos, collectedFile{File: p.File, SHA256: p.SHA256, Known: true, Cards: []string{}})
			return nil
		}
		if err != nil {
			return err
		}
		got.Known = there[got.SHA256]
		report.Photos = append(report.Photos, got)
		if opt.timing && done == 1 {
			_, _ = fmt.Fprintf(a.errs, "first photo kept after %.2f s\n", a.now().Sub(began).Seconds())
		}
		if got.Refused != nil {
			report.Refused++
			refusals = append(refusals, fmt.Errorf("photo %s: %s", got.File, got.Refused))
			return nil
		}
		report.Kept++
		// A second card in the picture that can't be trusted must not vanish without a word.
		for _, why := range further(p) {
			refusals = append(refusals, fmt.Errorf("photo %s: a further card in it is not used: %s", p.File, why))
		}
		return nil
	})
	a.progressDone()
	report.Reader = version
	errs = append(errs, err)
	// Also when nothing was fresh: the run that read these photos may have been interrupted before this.
	if len(there) > 0 && ctx.Err() == nil {
		errs = append(errs, in.tie(ctx, forms))
	}
	used, foreign, err := in.whose(ctx)
	errs = append(errs, err)
	report.Foreign = foreign
	if opt.asJSON {
		errs = append(errs, a.printJSON(report))
	} else {
		were := "were"
		if report.Known == 1 {
			were = "was"
		}
		for _, p := range report.Photos {
			a.printNotes(p)
		}
		a.printf("%s read, %d refused, %d %s there before\n", count(report.Kept, "photo"), report.Refused, report.Known, were)
		if note := foreignNote(foreign, used); note != "" {
			a.printf("note: %s\n", note)
		}
		if report.Kept+report.Known == 0 && report.Refused > 0 {
			a.printf("next: see to each refused photo, then add it again: gatefold collect %s PHOTO…\n", racefolder.ShellWord(dir))
		} else {
			a.printf("next: gatefold desk %s\n", racefolder.ShellWord(dir))
		}
	}
	return together(errors.Join(errs...), refused(errors.Join(refusals...)))
}

// printNotes says what is to be known of a photo that was kept.
func (a *app) printNotes(p collectedFile) {
	if p.SameAs != "" {
		a.printf("photo %s: shows the very picture of %s, in other bytes; both are kept, and nothing is to be done\n", p.File, p.SameAs)
	}
	for _, words := range p.forks {
		a.printf("photo %s: fits several forms: %s\n", p.File, words)
	}
	for _, f := range p.Flaws {
		a.printf("photo %s: kept, but %s: what stands there is doubtful; better: %s\n", p.File, f.Detail, f.Remedy)
	}
}

// keptForLater says what a collecting kept for others to read.
func (a *app) keptForLater(dir string, fresh []photoFile, unread map[string]bool) {
	waiting := 0
	for _, is := range unread {
		if is {
			waiting++
		}
	}
	a.printf("%s kept, to be read later\n", count(waiting, "photo"))
	if again := len(fresh) - waiting; again > 0 {
		a.printf("%s, read before and refused or damaged: to have them read again, collect them without --later\n", count(again, "photo"))
	}
	if waiting > 0 {
		a.printf("next: gatefold work %s\n", racefolder.ShellWord(dir))
	}
}

// intake brings what was read into a race's store.
type intake struct {
	dir    string
	folder *racefolder.Folder
	lost   []*sheetmodel.Layout // see lostLayouts
	race   *sheetmodel.Race
	store  *store.Store
	pages  *keptPages
}

// whose counts the sides that are kept: those of this race, and those that carry another one's id.
func (in *intake) whose(ctx context.Context) (used, foreign int, err error) {
	sheets, err := in.store.Sheets(context.WithoutCancel(ctx)) // also after an interruption: what was finished is told
	for _, s := range sheets {
		if s.Race == sheetmodel.RaceHash(in.race.ID) {
			used++
		} else {
			foreign++
		}
	}
	return used, foreign, err
}

// judgesOf lists the names of a race's judges, each once: a card's header is matched with them.
func judgesOf(race *sheetmodel.Race) []string {
	var all []string
	add := func(name string) {
		if name != "" && !slices.Contains(all, name) {
			all = append(all, name)
		}
	}
	for _, run := range race.Runs {
		for _, course := range run.Courses {
			for _, p := range course.Places {
				add(p.Judge)
				for _, r := range p.Relief {
					add(r.Judge)
				}
			}
		}
	}
	return all
}

// raceForms readies every card that was printed for a race. lost are the layouts of those whose file is gone.
func raceForms(folder *racefolder.Folder) (forms *reading.Forms, lost []*sheetmodel.Layout, err error) {
	layouts, err := layoutsFor(folder.Dir, nil)
	if err != nil {
		return nil, nil, err
	}
	if lost, err = lostLayouts(folder); err != nil {
		return nil, nil, err
	}
	forms, err = raceFormsOf(folder, append(layouts, lost...))
	return forms, lost, err
}

// lostLayouts are the layouts that cards would be printed with now, for a race folder that keeps none:
// it was copied without them. They only fit a card that carries their hash.
func lostLayouts(folder *racefolder.Folder) ([]*sheetmodel.Layout, error) {
	kept, err := folder.Layouts()
	if err != nil || slices.ContainsFunc(kept, marked) {
		return nil, err
	}
	var all []*sheetmodel.Layout
	for _, paper := range []string{"a5", "half-letter"} {
		for _, spare := range []bool{false, true} {
			l, err := sheetmodel.GateCard().BindRace(folder.Race(), paper, spare)
			if err != nil {
				return nil, nil //nolint:nilerr // then no card was printed with it, and gatefold cards says why
			}
			all = append(all, l)
		}
	}
	return all, nil
}

// restore keeps a lost layout again, once a card proves that it was printed with it.
func (in *intake) restore(hash string) error {
	for _, l := range in.lost {
		if l.Hash() == hash {
			_, err := in.folder.SaveLayout(l)
			return err
		}
	}
	return nil
}

// keep adds the original of one file.
func (in *intake) keep(ctx context.Context, file string) (store.Photo, bool, error) {
	data, err := readInput("photo", file)
	if err != nil {
		return store.Photo{}, false, err
	}
	return in.store.AddPhoto(ctx, filepath.Base(file), bytes.NewReader(data), int64(len(data)), time.Time{})
}

// take keeps what one photo shows, or why it is refused; all of it behind the guards.
func (in *intake) take(ctx context.Context, p reading.Photo, guards ...store.Guard) (collectedFile, error) {
	got := collectedFile{File: p.File, SHA256: p.SHA256, Cards: []string{}}
	sheets, why := in.sheetsOf(p)
	if why == nil {
		if err := in.unname(ctx, p.SHA256, sheets); err != nil {
			return got, err
		}
	}
	if why == nil && len(sheets) == 0 {
		why = p.Refused
	}
	if why != nil && why.Fault == "unknown-layout" {
		why.Remedy = "bring the folder layouts back from where the cards were printed; or put codes, groups, courses and second_writing back " +
			"as they were then, and the layout is written again by: gatefold cards " + racefolder.ShellWord(in.dir)
	}
	if why != nil {
		got.Refused = why
		rest := further(p)
		if why == p.Refused {
			rest = p.More
		}
		err := in.store.Guarded(guards...).Refuse(ctx, p.SHA256, p.Reader, toStore([]refusal{*why})[0], toStore(rest)...)
		return got, err
	}
	for i, s := range sheets {
		if err := in.restore(s.Layout); err != nil {
			return got, err
		}
		card, forks := forkWords(p.Cards, i)
		if !forks {
			card = in.words(s, p.Cards[i].Layout.Name)
		} else if slices.Min(p.Cards[i].Or) < i {
			continue // told with the first of the forms that it may be
		} else {
			got.forks = append(got.forks, card)
		}
		got.Cards = append(got.Cards, card)
		for _, f := range p.Cards[i].Quality.Flaws {
			got.Flaws = append(got.Flaws, collectedFlaw{card, f})
		}
	}
	got.SameAs = in.pages.same(p.SHA256, p.File, sheets)
	return got, in.store.Guarded(guards...).AddSheets(ctx, p.SHA256, p.Reader, sheets, toStore(further(p))...)
}

// further are the cards in a photo that can't be used, beside those that can.
func further(p reading.Photo) []refusal {
	if p.Refused == nil {
		return p.More
	}
	return append([]refusal{*p.Refused}, p.More...)
}

func toStore(refusals []refusal) []store.Refusal {
	var all []store.Refusal
	for _, why := range refusals {
		all = append(all, store.Refusal{Fault: why.Fault, Detail: why.Detail, Remedy: why.Remedy})
	}
	return all
}

// sheetsOf turns the cards of a photo into sheets of this race. A card of another race, or one whose
// identity can't be read, makes the photo one that a person must look at: nothing of it is guessed.
func (in *intake) sheetsOf(p reading.Photo) ([]store.NewSheet, *refusal) {
	var sheets []store.NewSheet
	for i, c := range p.Cards {
		card, plain, why := in.cardOf(c)
		if why != nil {
			return nil, why
		}
		sheet := store.NewSheet{
			Part: i + 1, Identity: in.identityOf(c), Card: card, Layout: c.LayoutHash,
			Quality: store.Quality{
				MarksSeen: c.Quality.MarksSeen, MarksTotal: c.Quality.MarksTotal,
				ResidualMM: c.Quality.ResidualMM, BlurMM: c.Quality.BlurMM, PxPerMM: c.Quality.PxPerMM,
			},
			Page: c.Page, PagePxPerMM: c.PxPerMM,
			Read: store.SideRead{Reading: c.Reading, Alone: c.Alone, Plain: plain},
		}
		for _, k := range c.Or {
			plain.Or = append(plain.Or, k+1)
		}
		copy(sheet.Corners[:], c.Corners)
		for _, f := range c.Quality.Flaws {
			sheet.Quality.Flaws = append(sheet.Quality.Flaws, store.Flaw(f))
		}
		for _, g := range c.Grid {
			sheet.Grid = append(sheet.Grid, store.GridPoint{Sheet: g.Sheet, Photo: g.Photo})
		}
		sheets = append(sheets, sheet)
	}
	return sheets, nil
}
