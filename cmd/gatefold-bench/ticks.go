package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"

	"gatefold/cmd/internal/reading"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// tickCounts is what became of boxes of one kind. Of a box whose field is asked about the field is what a person
// sees; a choice with a mark is counted as asked at its mark, its empty boxes not again.
type tickCounts struct {
	Boxes  int `json:"boxes"`
	Right  int `json:"right"`
	Asked  int `json:"asked"`
	Wrong  int `json:"wrong"`  // empty, and read as marked, clear
	Missed int `json:"missed"` // marked, and read as empty or another box as marked, clear
	// Of the ambiguous kinds, where nothing is right but to ask.
	AsMark  int `json:"read_as_mark,omitempty"`
	AsEmpty int `json:"read_as_empty,omitempty"`
}

// tickPhoto is what one photo of a dense sheet gave: one line of the work file.
type tickPhoto struct {
	Seed    uint64                   `json:"seed"`
	Level   string                   `json:"level"`
	Reader  string                   `json:"reader"`
	Refused string                   `json:"refused,omitempty"`
	Hidden  int                      `json:"hidden_fields,omitempty"` // of fields: a finger or the picture's edge
	Fields  int                      `json:"fields,omitempty"`        // that are not ambiguous
	Asked   int                      `json:"asked_fields,omitempty"`  // of these
	Kinds   map[tickKind]*tickCounts `json:"kinds,omitempty"`
	Notes   []string                 `json:"notes,omitempty"`
}

// ticker is what one worker needs.
type ticker struct {
	layout *sheetmodel.Layout
	reader reading.Reader
	crops  string
}

// levelOf gives every other seed a hard photo.
func levelOf(seed uint64) string { return []string{camera.Ordinary, camera.Hard}[seed%2] }

// photo marks a sheet, photographs and reads it. The seed is all that it depends on.
func (k *ticker) photo(ctx context.Context, seed uint64) (*tickPhoto, error) {
	rng := rand.New(rand.NewPCG(seed, 0x7469636b73))
	out := &tickPhoto{Seed: seed, Level: levelOf(seed), Reader: k.reader.Version(), Kinds: map[tickKind]*tickCounts{}}
	side := &k.layout.Sides[0]
	id := sheetmodel.Identity{
		Run: 1, Course: 1, Card: 1 + rng.IntN(60), Side: side.Name,
		Race: sheetmodel.RaceHash("ticks"), Layout: k.layout.HashStart(),
	}
	paper, err := print.Raster(side, print.CardPrint{Race: "Ticks", Date: "2027-01-23", Identity: id}, inkPxPerMM)
	if err != nil {
		return nil, err
	}
	level := camera.Levels()[out.Level]
	w := hand.DrawWriter(level.Pens(), rng)
	ink := hand.NewInk(sheetmodel.Rect{W: side.W, H: side.H}, inkPxPerMM)
	truth := markSheet(ink, side, *w, 0.2+0.8*rng.Float64(), rng)
	ink.Over(paper)
	scene := fill.SceneOf(side, image.Point{})
	for _, f := range side.Fields {
		scene.Rows = append(scene.Rows, f.Rect)
	}
	shot := level.Draw(scene, rng)
	view := shot.View()
	photo, err := view.Take(camera.Sheet{Image: paper, PxPerMM: inkPxPerMM}, 1)
	if err != nil {
		return nil, err
	}
	got, err := k.reader.Read(ctx, fmt.Sprintf("%s %d", out.Level, seed), photo.JPEG)
	if err != nil {
		return nil, err
	}
	var card *reading.Card
	for i := range got.Cards {
		if near(inShot(&got.Cards[i], got, view)(sheetmodel.SheetPoint{X: side.W / 2, Y: side.H / 2}), view, side) {
			card = &got.Cards[i]
		}
	}
	if card == nil {
		out.Refused = "not found"
		if got.Refused != nil {
			out.Refused = got.Refused.Fault
		}
		return out, nil
	}
	for _, f := range card.Fields {
		t, ok := truth[f.Name]
		if !ok {
			continue
		}
		for _, note := range out.count(side.Field(f.Name), f, t) {
			at := fieldError(side.Field(f.Name).Rect, inShot(card, got, view), view)
			out.Notes = append(out.Notes, fmt.Sprintf("%s %d %s: %s; %s %.2f, field off by %.2f mm", out.Level, seed, f.Name, note, w.Pen, w.Darker, at))
			if err := k.crop(card, f, fmt.Sprintf("%s-%d-%s", out.Level, seed, f.Name)); err != nil {
				return nil, err
			}
		}
	}
	return out, nil
}

func (p *tickPhoto) of(k tickKind) *tickCounts {
	if p.Kinds[k] == nil {
		p.Kinds[k] = &tickCounts{}
	}
	return p.Kinds[k]
}

// count counts the boxes of one field and says what was wrong.
func (p *tickPhoto) count(field *sheetmodel.Field, got reading.Field, truth tickedField) (notes []string) {
	read := -1 // the box that counts as marked
	if got.Text != "" {
		read = 0
		for i, o := range field.Options {
			if o.Value == got.Text {
				read = i
			}
		}
	}
	asked := got.State == sheetmodel.Doubtful
	hidden := slices.ContainsFunc(got.Reasons, func(d sheetmodel.Doubt) bool { return d.Kind == sheetmodel.DoubtHidden })
	if truth.ambiguous() {
		for _, k := range truth.kinds {
			if !k.ambiguous() {
				continue
			}
			c := p.of(k)
			switch c.Boxes++; {
			case asked:
				c.Asked++
			case read >= 0:
				c.AsMark++
			default:
				c.AsEmpty++
			}
		}
		return nil
	}
	p.Fields++
	if asked {
		p.Asked++
	}
	if hidden {
		p.Hidden++
	}
	want := truth.want()
	for i, k := range truth.kinds {
		c := p.of(k)
		c.Boxes++
		switch {
		case asked && (i == want || want < 0 && i == 0):
			c.Asked++
		case asked:
			c.Right++
		case i == want && read != want:
			c.Missed++
			notes = append(notes, fmt.Sprintf("a %s mark in box %d is missed, read as %q", k, i+1, got.Text))
		case i != want && read == i:
			c.Wrong++
			notes = append(notes, fmt.Sprintf("empty box %d is read as marked", i+1))
		default:
			c.Right++
		}
	}
	return notes
}

// crop keeps a picture of a field, where pictures are wanted.
func (k *ticker) crop(card *reading.Card, f reading.Field, name string) error {
	if k.crops == "" {
		return nil
	}
	page, err := png.Decode(bytes.NewReader(card.Page))
	if err != nil {
		return err
	}
	field := k.layout.Sides[0].Field(f.Name)
	r, s := field.Rect.Grow(6), card.PxPerMM
	at := image.Rect(int(float64(r.X)*s), int(float64(r.Y)*s), int(float64(r.X+r.W)*s), int(float64(r.Y+r.H)*s)).Intersect(page.Bounds())
	out := image.NewGray(image.Rect(0, 0, at.Dx(), at.Dy()))
	draw.Draw(out, out.Rect, page, at.Min, draw.Src)
	var b bytes.Buffer
	if err := png.Encode(&b, out); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(k.crops, name+".png"), b.Bytes(), 0o644)
}

// ticks measures dense sheets from s.seed on until so many boxes are counted, and writes ocr/ticks.json and
// ocr/ticks.md. Photos that a work file has by the same reader are not taken again: a run that was cut off goes on.
func ticks(ctx context.Context, s settings) error {
	if s.marks < 1 {
		return errors.New("ticks: -marks: how many boxes to count")
	}
	made, err := madeNow(ctx)
	if err != nil {
		return err
	}
	layout, err := denseSheet()
	if err != nil {
		return err
	}
	forms, err := reading.Prepare([]*sheetmodel.Layout{layout})
	if err != nil {
		return err
	}
	for _, dir := range []string{s.work, s.crops} {
		if dir == "" {
			continue
		}
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return err
		}
	}
	path := filepath.Join(s.work, fmt.Sprintf("ticks-%d.jsonl", s.seed))
	run := &tickRun{done: map[uint64]*tickPhoto{}, next: s.seed, want: s.marks, path: path}
	var group sync.WaitGroup
	errs := make([]error, max(1, runtime.GOMAXPROCS(0)))
	for i := range errs {
		r, err := reading.Open(forms, reading.Options{KeepPages: s.crops != ""})
		if err != nil {
			errs[i] = err
			break
		}
		if i == 0 {
			if err := run.load(r.Version()); err != nil {
				return errors.Join(err, r.Close())
			}
		}
		group.Go(func() {
			errs[i] = errors.Join(run.work(ctx, &ticker{layout: layout, reader: r, crops: s.crops}), r.Close())
		})
	}
	group.Wait()
	if err := errors.Join(errs...); err != nil {
		return err
	}
	return run.write(s, made, layout)
}

// tickRun hands out seeds in order until enough boxes are counted.
type tickRun struct {
	mu    sync.Mutex
	done  map[uint64]*tickPhoto
	next  uint64
	want  int
	boxes int
	path  string
}

// load takes the photos that are there.
func (r *tickRun) load(reader string) error {
	f, err := os.Open(r.path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer f.Close() //nolint:errcheck // only read
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		var p tickPhoto
		if err := json.Unmarshal(lines.Bytes(), &p); err != nil {
			continue // the line at which a run was cut off
		}
		if p.Reader == reader {
			r.done[p.Seed] = &p
			r.boxes += p.boxes()
		}
	}
	return lines.Err()
}

func (p *tickPhoto) boxes() int {
	n := 0
	for k, c := range p.Kinds {
		if !k.ambiguous() {
			n += c.Boxes
		}
	}
	return n
}

func (r *tickRun) work(ctx context.Context, k *ticker) error {
	for {
		r.mu.Lock()
		for r.done[r.next] != nil {
			r.next++
		}
		seed, enough := r.next, r.boxes >= r.want
		r.next++
		r.mu.Unlock()
		if enough {
			return nil
		}
		p, err := k.photo(ctx, seed)
		if err != nil {
			return fmt.Errorf("ticks %d: %w", seed, err)
		}
		line, err := json.Marshal(p)
		if err != nil {
			return err
		}
		r.mu.Lock()
		r.done[seed] = p
		r.boxes += p.boxes()
		err = appendTo(r.path, append(line, '\n'))
		if len(r.done)%20 == 0 || len(p.Notes) > 0 {
			fmt.Printf("ticks: %d photos, %d boxes of %d  %s\n", len(r.done), r.boxes, r.want, strings.Join(p.Notes, " | "))
		}
		r.mu.Unlock()
		if err != nil {
			return err
		}
	}
}

func appendTo(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY|os.O_CREATE, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	return errors.Join(err, f.Close())
}
