package archive

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gatefold/review/draft"
	"gatefold/review/schemas"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// Format is the format number of the JSON files of an archive.
const Format = 1

// readingsFile is readings.json.
type readingsFile struct {
	Format int           `json:"format"`
	Photos []store.Photo `json:"photos"`
	Sheets []sheetEntry  `json:"sheets"`
}

type sheetEntry struct {
	store.Sheet
	File string `json:"file,omitempty"` // of the straightened side, in this archive
}

// decisionsFile is decisions.json.
type decisionsFile struct {
	Format    int              `json:"format"`
	Decisions []store.Decision `json:"decisions"`
}

// recordsFile is records.json.
type recordsFile struct {
	Format     int               `json:"format"`
	Bindings   []store.Binding   `json:"bindings"`
	Ties       []store.CardTies  `json:"ties"`
	Answers    []store.Answer    `json:"answers"`
	GapReasons []store.GapReason `json:"gap_reasons"`
	PaperCards []store.PaperCard `json:"paper_cards"`
	Served     []servedEntry     `json:"served"`
	// Heard is the log of what came by radio or voice: hearsay about racers, so only in an archive with names.
	Heard []store.HeardEntry `json:"heard"`
}

type servedEntry struct {
	Session string `json:"session"`
	Person  string `json:"person"`
	Reading string `json:"reading"`
	Sheet   int64  `json:"sheet"`
	Reveals bool   `json:"reveals"`
	What    string `json:"what"`
	At      string `json:"at"`
}

// findingsFile is findings.json.
type findingsFile struct {
	Format int `json:"format"`
	rules.Result
}

func findings(r rules.Result) findingsFile {
	r.Findings, r.Calls = listed(r.Findings), listed(r.Calls)
	r.Standings, r.Incomplete = listed(r.Standings), listed(r.Incomplete)
	return findingsFile{Format: Format, Result: r}
}

// listed makes an empty list of nil, so that JSON holds [] and not null.
func listed[T any](all []T) []T {
	if all == nil {
		return []T{}
	}
	return all
}

// sheetFile is where a straightened side lies in the archive, by a name that a person can read.
func sheetFile(s store.Sheet) string {
	name := strings.ReplaceAll(store.CardName(s.Card), "/", "-")
	return fmt.Sprintf("sheets/%s-%s-photo-%.12s-%d%s", plain(name), s.Side, s.Photo, s.Part, filepath.Ext(s.Page))
}

// plain keeps file names to letters, digits, dot and dash: a manifest then needs no escapes.
func plain(name string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= '0' && r <= '9', r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r == '.', r == '-':
			return r
		}
		return '_'
	}, name)
}

// personal are the header fields that name a judge or a phone.
func personal(field string) bool {
	part := sheetmodel.Part(field[strings.LastIndexByte(field, '.')+1:])
	return part == sheetmodel.PartJudge || part == sheetmodel.PartPhone
}

// originalSums lists what the originals are that aren't in the archive, as sha256sum does: whoever has them
// can check them.
func originalSums(b *bag, photos []store.Photo) error {
	var text strings.Builder
	for _, p := range photos {
		fmt.Fprintf(&text, "%s  %s\n", p.ID, p.File)
	}
	return b.text("data/originals-sha256.txt", text.String())
}

func readings(b *bag, photos []store.Photo, sheets []store.Sheet) error {
	f := readingsFile{Format: Format, Photos: listed(photos), Sheets: []sheetEntry{}}
	for _, s := range sheets {
		e := sheetEntry{Sheet: s}
		if s.Page != "" && !slices.Contains(b.leftOut, s.Page) {
			e.File = sheetFile(s)
		}
		f.Sheets = append(f.Sheets, e)
	}
	return b.json("data/readings.json", f)
}

func decisions(ctx context.Context, b *bag, in Input) error {
	all, err := in.Store.Decisions(ctx)
	if err != nil {
		return err
	}
	return b.json("data/decisions.json", decisionsFile{Format, listed(all)})
}

const timeFormat = "2006-01-02T15:04:05.000Z07:00"

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

func records(ctx context.Context, b *bag, in Input) error {
	f := recordsFile{Format: Format}
	var errs [7]error
	f.Bindings, errs[0] = in.Store.Bindings(ctx)
	f.Ties, errs[1] = in.Store.Ties(ctx)
	f.Answers, errs[2] = in.Store.Answers(ctx)
	f.GapReasons, errs[3] = in.Store.GapReasons(ctx)
	f.PaperCards, errs[4] = in.Store.PaperCards(ctx)
	served, err := in.Store.ServedLog(ctx)
	errs[5] = err
	if in.Names {
		f.Heard, errs[6] = in.Store.HeardLog(ctx)
	}
	if err := errors.Join(errs[:]...); err != nil {
		return err
	}
	f.Bindings, f.Ties, f.Answers, f.Heard = listed(f.Bindings), listed(f.Ties), listed(f.Answers), listed(f.Heard)
	f.GapReasons, f.PaperCards, f.Served = listed(f.GapReasons), listed(f.PaperCards), []servedEntry{}
	for i := range f.Ties {
		f.Ties[i].Ties = listed(f.Ties[i].Ties)
	}
	for _, v := range served {
		f.Served = append(f.Served, servedEntry{v.Session, v.Person, v.Readings[0], v.Sheet, v.Reveals, v.What, v.At.Format(timeFormat)})
	}
	return b.json("data/records.json", f)
}

// raceFiles writes what isn't on cards: always the race as JSON, a start list and the layouts; with
// names also the files of the race folder as they are.
func raceFiles(b *bag, in Input) error {
	race := *in.Stack.Race
	if err := b.json("data/race/race.json", race); err != nil {
		return err
	}
	err := b.write("data/race/bibs.csv", func(w io.Writer) error {
		c := csv.NewWriter(w)
		c.UseCRLF = true
		records := [][]string{{"bib", "group", "course"}}
		for _, s := range race.Starters {
			records = append(records, []string{draft.Harmless(s.Number), draft.Harmless(s.Group), draft.Harmless(s.Course)})
		}
		return c.WriteAll(records)
	})
	if err != nil {
		return err
	}
	patterns := []string{"layouts/*.yaml", "layouts/*.png"}
	if in.Names {
		patterns = append(patterns, "*.yaml", "*.csv")
	}
	for _, p := range patterns {
		found, err := filepath.Glob(filepath.Join(in.Folder, filepath.FromSlash(p)))
		if err != nil {
			return err
		}
		slices.Sort(found)
		for _, path := range found {
			if info, err := os.Stat(path); err != nil || !info.Mode().IsRegular() {
				continue // no file that a race was read from
			}
			text, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			to := "data/race/" + plain(filepath.Base(path))
			if strings.HasPrefix(p, "layouts/") {
				to = "data/race/layouts/" + plain(filepath.Base(path))
			}
			if err = b.text(to, string(text)); err != nil {
				return err
			}
		}
	}
	return nil
}

func schemaFiles(b *bag) error {
	for _, name := range schemas.Names() {
		text, err := schemas.Text(name)
		if err == nil {
			err = b.text("data/schemas/"+name, text)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
