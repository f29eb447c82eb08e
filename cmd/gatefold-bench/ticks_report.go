package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gatefold/ocr/calib"
	"gatefold/scan/camera"
	"gatefold/sheetmodel"
)

// ticksFile is ocr/ticks.json.
type ticksFile struct {
	Format int `json:"format"`
	MadeWith
	Reader  string                `json:"reader"`
	Command string                `json:"command"`
	Layout  string                `json:"layout"` // start of its hash
	Levels  string                `json:"levels"` // hash of scan/camera/levels.yaml
	Boxes   int                   `json:"boxes"`  // that are not ambiguous, of photos that were read
	Level   map[string]*tickLevel `json:"level"`
	Notes   []string              `json:"notes"`
}

// tickLevel is what the photos of one level gave.
type tickLevel struct {
	Photos  int                      `json:"photos"`
	Refused map[string]int           `json:"refused"`
	Fields  int                      `json:"fields"`
	Asked   int                      `json:"asked_fields"`
	Hidden  int                      `json:"hidden_fields"`
	Kinds   map[tickKind]*tickCounts `json:"kinds"`
}

const ticksName = "ticks.json"

// write puts the run together.
func (r *tickRun) write(s settings, made MadeWith, layout *sheetmodel.Layout) error {
	out := ticksFile{
		Format: 1, MadeWith: made, Layout: layout.HashStart(), Levels: camera.LevelsHash(), Notes: []string{},
		Command: fmt.Sprintf("gatefold-bench ticks -marks %d -seed %d", s.marks, s.seed), Level: map[string]*tickLevel{},
	}
	seeds := slices.Sorted(maps.Keys(r.done))
	out.Seeds = []uint64{seeds[0], seeds[len(seeds)-1]}
	for _, seed := range seeds {
		p := r.done[seed]
		out.Reader = p.Reader
		l := out.Level[p.Level]
		if l == nil {
			l = &tickLevel{Refused: map[string]int{}, Kinds: map[tickKind]*tickCounts{}}
			out.Level[p.Level] = l
		}
		l.Photos++
		if p.Refused != "" {
			l.Refused[p.Refused]++
		}
		l.Fields, l.Asked, l.Hidden = l.Fields+p.Fields, l.Asked+p.Asked, l.Hidden+p.Hidden
		for k, c := range p.Kinds {
			if l.Kinds[k] == nil {
				l.Kinds[k] = &tickCounts{}
			}
			l.Kinds[k].plus(*c)
		}
		out.Boxes += p.boxes()
		out.Notes = append(out.Notes, p.Notes...)
	}
	data, err := json.MarshalIndent(out, "", "  ")
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(s.ticksOut, ticksName), append(data, '\n'), 0o644); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(s.ticksOut, "ticks.md"), []byte(out.markdown()), 0o644)
}

func (c *tickCounts) plus(o tickCounts) {
	c.Boxes, c.Right, c.Asked, c.Wrong, c.Missed = c.Boxes+o.Boxes, c.Right+o.Right, c.Asked+o.Asked, c.Wrong+o.Wrong, c.Missed+o.Missed
	c.AsMark, c.AsEmpty = c.AsMark+o.AsMark, c.AsEmpty+o.AsEmpty
}

// sum adds up the kinds of one sort.
func (l *tickLevel) sum(of func(tickKind) bool) tickCounts {
	var all tickCounts
	for k, c := range l.Kinds {
		if of(k) {
			all.plus(*c)
		}
	}
	return all
}

func (f *ticksFile) markdown() string {
	var b strings.Builder
	fmt.Fprintf(&b, "# Ticks\n\nMade by `%s`, reader `%s`, commit %s. `ticks.json` holds the same.\n\n", f.Command, f.Reader, f.Commit)
	b.WriteString(ticksHead)
	b.WriteString("\n| level | boxes | marked | missed | 95 % bound | empty | read as marked | 95 % bound | fields | asked | of these, covered |\n|---|---|---|---|---|---|---|---|---|---|---|\n")
	levels := []string{camera.Ordinary, camera.Hard}
	for _, name := range levels {
		l := f.Level[name]
		if l == nil {
			continue
		}
		l.row(&b, name)
	}
	f.total().row(&b, "both")
	b.WriteString("\nBounds are Clopper-Pearson, one-sided, for one rate each. They hold for marks as drawn here.\n")
	b.WriteString("\n## By kind\n\n| kind | level | boxes | read rightly | asked | missed | read as marked |\n|---|---|---|---|---|---|---|\n")
	for _, k := range tickKinds {
		for _, name := range levels {
			if l := f.Level[name]; l != nil && l.Kinds[k] != nil && !k.ambiguous() {
				c := l.Kinds[k]
				fmt.Fprintf(&b, "| %s | %s | %d | %d | %d (%.2f %%) | %d | %d |\n", k, name, c.Boxes, c.Right, c.Asked, percent(c.Asked, c.Boxes), c.Missed, c.Wrong)
			}
		}
	}
	b.WriteString("\n## Ambiguous ones\n\nNothing is right here but a question. They count in no figure above.\n\n| kind | level | boxes | asked | taken for a mark | taken for none |\n|---|---|---|---|---|---|\n")
	for _, k := range tickKinds {
		for _, name := range levels {
			if l := f.Level[name]; l != nil && l.Kinds[k] != nil && k.ambiguous() {
				c := l.Kinds[k]
				fmt.Fprintf(&b, "| %s | %s | %d | %d (%.1f %%) | %d | %d |\n", k, name, c.Boxes, c.Asked, percent(c.Asked, c.Boxes), c.AsMark, c.AsEmpty)
			}
		}
	}
	b.WriteString("\n## Photos\n\n")
	for _, name := range levels {
		if l := f.Level[name]; l != nil {
			refused := 0
			var why []string
			for _, k := range slices.Sorted(maps.Keys(l.Refused)) {
				refused += l.Refused[k]
				why = append(why, fmt.Sprintf("%s %d", k, l.Refused[k]))
			}
			fmt.Fprintf(&b, "- %s: %d photos, %d refused %s\n", name, l.Photos, refused, strings.Join(why, ", "))
		}
	}
	fmt.Fprintf(&b, "\nSeeds %d to %d; even ones are ordinary, odd ones hard.\n", f.Seeds[0], f.Seeds[1])
	if len(f.Notes) > 0 {
		b.WriteString("\n## Wrong or missed, one by one\n\n")
		for _, n := range f.Notes {
			fmt.Fprintf(&b, "- %s\n", n)
		}
	}
	return b.String()
}

// line is what the scoreboard says.
func (f *ticksFile) line() string {
	l := f.total()
	m, e := l.sum(tickKind.meant), l.sum(func(k tickKind) bool { return k == emptyBox })
	return fmt.Sprintf("Tick boxes on dense sheets (ocr/ticks.md, reader `%s`): %d marked, %d missed; %d empty, %d read as marked; %d of %d answers asked of a person.\n",
		f.Reader, m.Boxes, m.Missed, e.Boxes, e.Wrong, l.Asked, l.Fields)
}

// total adds up the levels.
func (f *ticksFile) total() *tickLevel {
	all := &tickLevel{Kinds: map[tickKind]*tickCounts{}}
	for _, l := range f.Level {
		all.Fields, all.Asked, all.Hidden = all.Fields+l.Fields, all.Asked+l.Asked, all.Hidden+l.Hidden
		for k, c := range l.Kinds {
			if all.Kinds[k] == nil {
				all.Kinds[k] = &tickCounts{}
			}
			all.Kinds[k].plus(*c)
		}
	}
	return all
}

func (l *tickLevel) row(b *strings.Builder, name string) {
	m, e := l.sum(tickKind.meant), l.sum(func(k tickKind) bool { return k == emptyBox })
	fmt.Fprintf(b, "| %s | %d | %d | %d | %.1f in a million | %d | %d | %.1f in a million | %d | %d (%.2f %%) | %d |\n", name, m.Boxes+e.Boxes,
		m.Boxes, m.Missed, 1e6*calib.Upper(m.Missed, m.Boxes, 0.95), e.Boxes, e.Wrong, 1e6*calib.Upper(e.Wrong, e.Boxes, 0.95),
		l.Fields, l.Asked, percent(l.Asked, l.Fields), l.Hidden)
}

func percent(k, n int) float64 {
	if n == 0 {
		return 0
	}
	return 100 * float64(k) / float64(n)
}

// readTicks returns what ocr/ticks.json says, nil where it is not there.
func readTicks(dir string) (*ticksFile, error) {
	data, err := os.ReadFile(filepath.Join(dir, ticksName))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var f ticksFile
	if err := json.Unmarshal(data, &f); err != nil {
		return nil, fmt.Errorf("%s: %w", ticksName, err)
	}
	return &f, nil
}

const ticksHead = `A dense sheet holds the tick boxes of the gate card, of a code, a panel's letter and a re-run, copied as they are in
place of all rows. Each sheet is marked by another simulated writer, photographed by the simulated camera, straightened and
read by the program's own code, with its thresholds. A choice reads one of its boxes, as on a card. Sheets are marked fully
or sparsely, as it falls.

What this can't say: a dense sheet shows more marks to compare a mark with than a card does; its fields stand in no row, as if
each row were written in. Shapes and shares of marks are our own, not counted on cards of real judges. The kinds are explained
in cmd/gatefold-bench/tickmarks.go. A mark counts as astray, and as ambiguous, if less than six tenths of its ink lie in its box
or another box of its choice gets a quarter of it: by the ink drawn, whatever was read.
`
