package racefolder

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"gatefold/sheetmodel"
)

// ForgettingFile is in a race folder while a person's data are being removed. A removal writes several files, one after the other: where it is
// cut off, this one stays and says so. It names nobody.
const ForgettingFile = "removal.json"

// forgettingFormat is the number of the file's format.
const forgettingFormat = 1

// Forgetting is a removal that was begun.
type Forgetting struct {
	Format int       `json:"format"`
	At     time.Time `json:"at"`
	By     string    `json:"by"`
	// Judges and Racers are where the person stood in race.yaml and in the start list.
	Judges []JudgeSlot      `json:"judges"`
	Racers []sheetmodel.Bib `json:"racers"`
	// Elsewhere: whoever was to go, or one of several, stood in neither file, or nobody can tell where. No later removal is known to be theirs.
	Elsewhere bool `json:"elsewhere,omitempty"`
}

// JudgeSlot is a judge of a place: the first, or with Took from 1 on one who took over.
type JudgeSlot struct {
	Card sheetmodel.CardKey `json:"card"`
	Took int                `json:"took,omitempty"`
}

// BeginForget leaves word that a removal was begun. What an earlier one that was cut off has left stays in it.
func (f *Folder) BeginForget(b Forgetting) error {
	b.Format, b.Elsewhere = forgettingFormat, len(b.Judges)+len(b.Racers) == 0
	was, err := f.Forgetting()
	if err != nil {
		return err
	}
	if f.cutOff = was; was != nil {
		b.Judges = slices.Concat(was.Judges, b.Judges)
		b.Racers = slices.Concat(was.Racers, b.Racers)
		b.Elsewhere = b.Elsewhere || was.Elsewhere
	}
	return f.writeForgetting(b)
}

func (f *Folder) writeForgetting(b Forgetting) error {
	text, err := json.Marshal(b)
	if err != nil {
		return fmt.Errorf("%s: %w", ForgettingFile, err)
	}
	return writeAtomic(filepath.Join(f.Dir, ForgettingFile), append(text, '\n'), 0o600, nil)
}

// Forgetting returns the removal that was begun and not ended; nil: there is none. A file that can't be read is one that was begun.
func (f *Folder) Forgetting() (*Forgetting, error) {
	text, err := os.ReadFile(filepath.Join(f.Dir, ForgettingFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil //nolint:nilnil // there is none
	}
	if err != nil {
		return nil, err
	}
	var b Forgetting
	// Written by hand, by a newer gatefold, or only half: it was begun all the same.
	if err := json.Unmarshal(text, &b); err != nil || b.Format > forgettingFormat || len(b.Judges)+len(b.Racers) == 0 {
		b.Elsewhere = true
	}
	return &b, nil
}

// EndForget takes the word off, unless an earlier removal was cut off and this one isn't known to be the same: somebody still stands where it
// was to remove them, or it doesn't say where. Then the earlier word stays alone. It reports whether none is left.
func (f *Folder) EndForget() (ended bool, err error) {
	was := f.cutOff
	race := f.Race()
	if was != nil && (was.Elsewhere || slices.ContainsFunc(was.Judges, func(slot JudgeSlot) bool { return judgeIn(race, slot) != "" }) ||
		slices.ContainsFunc(was.Racers, func(bib sheetmodel.Bib) bool {
			return slices.ContainsFunc(race.StartersWith(bib.Number), func(s sheetmodel.Starter) bool { return s.Group == bib.Group && s.Name != "" })
		})) {
		return false, f.writeForgetting(*was)
	}
	if err := os.Remove(filepath.Join(f.Dir, ForgettingFile)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return false, err
	}
	return true, syncDir(f.Dir)
}

func judgeIn(race *sheetmodel.Race, slot JudgeSlot) string {
	run := race.Run(slot.Card.Run)
	if run == nil || run.Course(slot.Card.Course) == nil {
		return ""
	}
	for _, p := range run.Course(slot.Card.Course).Places {
		switch {
		case p.Card != slot.Card.Card:
		case slot.Took == 0:
			return p.Judge
		case slot.Took <= len(p.Relief):
			return p.Relief[slot.Took-1].Judge
		}
	}
	return ""
}
