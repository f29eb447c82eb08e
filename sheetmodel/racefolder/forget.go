package racefolder

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

// Forgotten is what Forget removed from the race's files, or would.
type Forgotten struct {
	Judges int // places where a judge and a phone are empty now, also one who took over
	Racers int // lines of the start list whose name is empty now
	Cards  []sheetmodel.CardKey
	Words  []string // the names and numbers themselves, to look for elsewhere
	// Slots and Bibs are where the person stands.
	Slots []JudgeSlot
	Bibs  []sheetmodel.Bib
}

// Forget removes a person's name, and a judge's phone number with it, from race.yaml and the start list. match
// reports whether a name is the person's. Bibs, groups, clubs and gates stay. With try nothing is changed.
//
// Each file is replaced only by one that reads back as exactly the race without the name; the start list is
// written as UTF-8 then. Comments are not looked at.
func (f *Folder) Forget(match func(name string) bool, try bool) (Forgotten, error) {
	var done Forgotten
	race := f.Race()
	for _, run := range race.Runs {
		for _, c := range run.Courses {
			places, n := slices.Clone(c.Places), 0
			for i := range places {
				p, before := &places[i], len(done.Words)
				card := sheetmodel.CardKey{Run: run.Number, Course: c.Course, Card: p.Card}
				if match(p.Judge) {
					done.Words = append(done.Words, p.Judge, p.Phone)
					p.Judge, p.Phone = "", ""
					done.Slots = append(done.Slots, JudgeSlot{Card: card})
				}
				p.Relief = slices.Clone(p.Relief)
				for k := range p.Relief {
					if x := &p.Relief[k]; match(x.Judge) {
						done.Words = append(done.Words, x.Judge, x.Phone)
						x.Judge, x.Phone = "", ""
						done.Slots = append(done.Slots, JudgeSlot{Card: card, Took: k + 1})
					}
				}
				if len(done.Words) > before {
					n++
					done.Cards = append(done.Cards, card)
				}
			}
			done.Judges += n
			if n == 0 || try {
				continue
			}
			if err := f.SavePlaces(run.Number, c.Course, places); err != nil {
				return done, err
			}
		}
	}
	var bibs []int
	for i, s := range race.Starters {
		if match(s.Name) {
			bibs = append(bibs, i)
			done.Words = append(done.Words, s.Name)
			done.Bibs = append(done.Bibs, sheetmodel.Bib{Group: s.Group, Number: s.Number})
		}
	}
	done.Racers = len(bibs)
	done.Words = slices.Compact(slices.Sorted(slices.Values(done.Words)))
	done.Words = slices.DeleteFunc(done.Words, func(w string) bool { return w == "" })
	if len(bibs) == 0 || try {
		return done, nil
	}
	return done, f.forgetStarters(bibs)
}

// forgetStarters empties the names of some starters, by their place among all, in the start list.
func (f *Folder) forgetStarters(which []int) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	files := newFiles(f.Dir, f.fsys)
	want, _, err := readRace(files)
	if err != nil {
		return err
	}
	raceYAML, err := files.read(RaceFile)
	if err != nil {
		return err
	}
	p := files.problems(RaceFile)
	rf := readRaceFile(files, p, raceYAML)
	if rf == nil {
		return p.err()
	}
	name := orDefault(rf.top.text("start_list"), StartListFile)
	path := filepath.Join(f.Dir, filepath.FromSlash(name))
	old, err := files.read(name)
	if err != nil {
		return err
	}
	info, err := os.Stat(path)
	if err != nil {
		return fmt.Errorf("%s: not saved: %w", path, err)
	}
	lines := map[int]bool{}
	for _, i := range which {
		lines[want.Starters[i].Line] = true
		want.Starters[i].Name = ""
	}
	text, err := withoutNames(old, lines)
	if err != nil {
		return fmt.Errorf("%s: not saved: %w", path, err)
	}
	again := newFiles(f.Dir, f.fsys)
	again.instead = map[string][]byte{strings.TrimPrefix(filepath.ToSlash(name), "./"): text}
	got, notes, err := readRace(again)
	if err != nil || !reflect.DeepEqual(got, want) {
		return errors.Join(fmt.Errorf("%s: not saved: it would not read back as it was meant; empty the name in an editor", path), err)
	}
	if err := writeAtomic(path, text, info.Mode().Perm(), f.step); err != nil {
		return err
	}
	f.race, f.notes = got, notes
	return nil
}

// withoutNames empties the cells of a table that hold a name, on the given lines. All other lines stay as they are.
func withoutNames(text []byte, lines map[int]bool) ([]byte, error) {
	plain, _ := decodeText(text)
	body, skipped := dropSeparatorLine(plain)
	r := csv.NewReader(strings.NewReader(body))
	r.Comma = delimiter(body)
	r.FieldsPerRecord = -1
	var at map[column]int
	var out strings.Builder
	out.WriteString(plain[:len(plain)-len(body)])
	from := int64(0)
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			out.WriteString(body[from:])
			return []byte(out.String()), nil
		}
		if err != nil {
			return nil, err
		}
		to := r.InputOffset()
		line, _ := r.FieldPos(0)
		switch {
		case at == nil && !blank(cells):
			if at, _, err = findColumns(cells, startColumns); err != nil {
				return nil, err
			}
			out.WriteString(body[from:to])
		case at != nil && lines[line+skipped]:
			for _, c := range []column{columnName, columnFirst, columnLast} {
				if i, has := at[c]; has && i < len(cells) {
					cells[i] = ""
				}
			}
			record := strings.TrimLeft(body[from:to], "\r\n")
			out.WriteString(body[from : to-int64(len(record))]) // empty lines before it
			w := csv.NewWriter(&out)
			w.Comma = r.Comma
			w.UseCRLF = strings.Contains(body, "\r\n")
			if err = w.Write(cells); err != nil {
				return nil, err
			}
			w.Flush()
			if err = w.Error(); err != nil {
				return nil, err
			}
		default:
			out.WriteString(body[from:to])
		}
		from = to
	}
}
