package racefolder

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"gatefold/sheetmodel"
)

// PrintedFile is the record of what a number on a printed card stands for, beside the layouts.
const PrintedFile = LayoutsFolder + "/printed.yaml"

// printed is what cards carry only as a number or a hash, and the groups that judges ring on them. What
// the codes do stays the league's affair: one that does something else now holds its rows until cards are
// printed again, and a printed code that is gone is asked about, row by row.
type printed struct {
	Format  int      `yaml:"format"`
	ID      string   `yaml:"id"`
	Courses []string `yaml:"courses"` // the identity's course no. 1 is the first
	Groups  []string `yaml:"groups"`
	// Cards are the numbers that went out; records of earlier versions hold none.
	Cards []PrintedCards `yaml:"cards,omitempty"`
	// Effects are what each code did when cards were last printed; records of earlier versions hold none. What
	// it says on the cards is in their layouts.
	Effects map[string]sheetmodel.Effect `yaml:"effects,omitempty"`
}

const (
	printedFormat = 1
	printedHead   = "# What the numbers on the printed cards stand for. Written by gatefold cards; don't edit.\n"
)

// SavePrinted remembers id, courses and groups of the race and the numbers of its cards, before they go out. It
// changes nothing if they are remembered already. When it returns nil, the record survives a power cut.
//
// A Folder that opened agrees with the record, so nothing that is printed is ever forgotten.
func (f *Folder) SavePrinted(cards ...PrintedCards) error {
	race := f.Race()
	data, err := yaml.Marshal(printed{
		Format: printedFormat, ID: race.ID, Courses: race.Courses, Groups: groupNames(race), Cards: f.wasPrinted().withPrinted(cards),
		Effects: effectsOf(race.Codes),
	})
	if err != nil {
		return fmt.Errorf("%s: %w", PrintedFile, err)
	}
	data = append([]byte(printedHead), data...)
	at := filepath.Join(f.Dir, filepath.FromSlash(PrintedFile))
	if old, err := newFiles(f.Dir, f.fsys).read(PrintedFile); err == nil && bytes.Equal(old, data) {
		return nil
	}
	if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
		return fmt.Errorf("%s: %w", filepath.Dir(at), err)
	}
	if err := syncDir(f.Dir); err != nil {
		return err
	}
	return writeAtomic(at, data, 0o644, f.step)
}

// printed compares race.yaml with what cards were printed for. A card names its course by number only:
// with another order of courses, Blue's cards would be read as Red's.
func (f *raceFile) printed(files *files) {
	text, err := files.read(PrintedFile)
	if errors.Is(err, fs.ErrNotExist) {
		return // nothing printed yet
	}
	p := files.problems(PrintedFile)
	if err != nil {
		p.at(0, "%s", strings.TrimPrefix(err.Error(), PrintedFile+": "))
		return
	}
	was := printed{}
	d := yaml.NewDecoder(bytes.NewReader(text))
	d.KnownFields(true)
	switch err := d.Decode(&was); {
	case err != nil || was.Format < 1 || was.ID == "" || len(was.Courses) == 0:
		p.at(0, "can't be read; bring it back from a copy of the race folder: it says which course each printed card belongs to")
		return
	case was.Format > printedFormat:
		p.at(0, "format %d is newer than this program reads (%d); use a newer gatefold", was.Format, printedFormat)
		return
	}
	f.wasGroups = was.Groups
	if f.race.ID != "" && f.race.ID != was.ID {
		f.top.fail("id", "id is %s, but cards were printed with id %s and belong to that race only; write id: %s again, or make a folder of its own for a new race with: gatefold start FOLDER",
			f.race.ID, was.ID, was.ID)
	}
	if len(f.race.Courses) > 0 && !startsWith(f.race.Courses, was.Courses) {
		f.unsureCourses = true
		f.top.fail("courses", "courses are %s, but cards were printed for %s, and a card carries only the number of its course; "+
			"begin with %s again, new courses go behind them (no printed card in use? remove %s, then print all cards anew)",
			flowList(f.race.Courses), flowList(was.Courses), flowList(was.Courses), path.Join(filepath.ToSlash(files.dir), PrintedFile))
	}
}

// printedGroups demands that every group that can be ringed on a printed card is still one of the race:
// what is ringed is taken by its name.
func (f *raceFile) printedGroups() {
	var gone []string
	names := groupNames(f.race)
	for _, g := range f.wasGroups {
		if !slices.Contains(names, g) {
			gone = append(gone, g)
		}
	}
	if len(gone) > 0 {
		f.unsureGroups = true
		f.top.fail("groups", "groups lack %s, which cards were printed with, to be ringed; write it back as it was (a group without starters does no harm)",
			strings.Join(gone, ", "))
	}
}

// startsWith reports whether list begins with head, name by name: what was collected is kept under them.
func startsWith(list, head []string) bool {
	return len(list) >= len(head) && slices.Equal(list[:len(head)], head)
}

func flowList(list []string) string { return "[" + strings.Join(list, ", ") + "]" }

// Drifted says in a sentence that cards printed for the race as it is now would differ from all that
// were printed, or nothing. Cards that are out already are read as they were printed. Cards of another make, which carry
// no identity, weren't printed here.
func Drifted(race *sheetmodel.Race, kept []*sheetmodel.Layout) string {
	ours := func(l *sheetmodel.Layout) bool {
		return slices.ContainsFunc(l.Sides, func(s sheetmodel.Side) bool { return len(s.Identity) > 0 })
	}
	if !slices.ContainsFunc(kept, ours) {
		return ""
	}
	for _, paper := range []string{"a5", "half-letter"} {
		now, err := sheetmodel.GateCard().BindRace(race, paper, false)
		if err != nil {
			continue // gatefold cards says why, to whoever prints
		}
		if slices.ContainsFunc(kept, func(l *sheetmodel.Layout) bool { return l.Hash() == now.Hash() }) {
			return ""
		}
	}
	return "codes, groups, courses, second_writing or the longest bib have changed since cards were printed; " +
		"cards that are out are read as they were printed, with the old words; to have the change on paper, print again"
}
