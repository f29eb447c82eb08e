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

// Forgetting is a removal that was begun.
type Forgetting struct {
	Format int       `json:"format"`
	At     time.Time `json:"at"`
	By     string    `json:"by"`
	// Judges and Racers are where the person stood in race.yaml and in the start list.
	Judges []JudgeSlot      `json:"judges"`
	Racers []sheetmodel.Bib `json:"racers"`
}

// JudgeSlot is a judge of a place: the first, or with Took from 1 on one who took over.
type JudgeSlot struct {
	Card sheetmodel.CardKey `json:"card"`
	Took int                `json:"took,omitempty"`
}

// BeginForget leaves word that a removal was begun. What an earlier one that was cut off has left stays in it.
func (f *Folder) BeginForget(b Forgetting) error {
	b.Format = 1
	if was, err := f.Forgetting(); err != nil {
		return err
	} else if was != nil {
		b.Judges = append(was.Judges, b.Judges...)
		b.Racers = append(was.Racers, b.Racers...)
	}
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
	_ = json.Unmarshal(text, &b) // written by hand or by a newer gatefold: it was begun all the same
	return &b, nil
}

// EndForget takes the word off, unless somebody still stands where an earlier removal that was cut off was to remove them. It reports whether
// none is left.
func (f *Folder) EndForget() (ended bool, err error) {
	b, err := f.Forgetting()
	if err != nil || b == nil {
		return err == nil, err
	}
	race := f.Race()
	for _, slot := range b.Judges {
		if judgeIn(race, slot) != "" {
			return false, nil
		}
	}
	for _, bib := range b.Racers {
		if slices.ContainsFunc(race.StartersWith(bib.Number), func(s sheetmodel.Starter) bool { return s.Group == bib.Group && s.Name != "" }) {
			return false, nil
		}
	}
	if err := os.Remove(filepath.Join(f.Dir, ForgettingFile)); err != nil {
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
