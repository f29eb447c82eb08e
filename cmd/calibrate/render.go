package main

import (
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"

	"gatefold/cmd/internal/hands"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// pagePxPerMM is scan's default for a page.
const pagePxPerMM = 8.0

// inkPxPerMM is enough for strokes of 0.4 mm photographed at no more than 20 px/mm.
const inkPxPerMM = 20.0

// form is a layout with the parts of it that are drawn.
type form struct {
	name   string
	layout *sheetmodel.Layout
	parts  []*part
	drawn  map[sheetmodel.SideName]*image.Gray // printed, nothing written
}

// forms are the two ways a row can be printed: one writing with wide boxes and strips on the back, or
// two writings with narrower ones.
func forms() (map[string]*form, error) {
	out := map[string]*form{}
	for _, second := range []bool{false, true} {
		f := &form{name: "one", drawn: map[sheetmodel.SideName]*image.Gray{}}
		if second {
			f.name = "two"
		}
		var err error
		if f.layout, err = sheetmodel.GateCard().Bind(sheetmodel.BindOptions{
			Groups: []string{"U12 f", "U12 m"}, Courses: []string{"red", "blue"}, SecondWriting: second,
		}); err != nil {
			return nil, err
		}
		front, back := f.layout.Side(sheetmodel.Front), f.layout.Side(sheetmodel.Back)
		left := sheetmodel.Rect{X: 5, Y: 57, W: 58, H: 148} // bib, second box, marks, count of rows
		type place struct {
			name string
			side *sheetmodel.Side
			rect sheetmodel.Rect
		}
		places := []place{{"left", front, left}}
		if second {
			places[0].rect.W = 62
		} else {
			places = append(places,
				place{"right", front, sheetmodel.Rect{X: 42, Y: 57, W: 101, H: 148}}, // codes, gate, panels
				place{"strips", back, sheetmodel.Rect{X: 30, Y: 84, W: 176, H: 60}},
				place{"head", front, sheetmodel.Rect{X: 5, Y: 16, W: 138, H: 42}})
		}
		for _, r := range places {
			p, err := newPart(r.name, r.side, r.rect)
			if err != nil {
				return nil, fmt.Errorf("layout %s: %w", f.name, err)
			}
			f.parts = append(f.parts, p)
		}
		for _, side := range []*sheetmodel.Side{front, back} {
			if f.drawn[side.Name], err = print.Raster(side, print.CardPrint{
				Race: "Dachs Cup, Oberhang", Date: "14 February 2027", Discipline: "giant slalom", Course: "red",
				Identity: sheetmodel.Identity{
					Run: 1, Course: 1, Card: 7, Side: side.Name, Race: sheetmodel.RaceHash("dachs"), Layout: f.layout.HashStart(),
				},
			}, inkPxPerMM); err != nil {
				return nil, err
			}
		}
		out[f.name] = f
	}
	return out, nil
}

// shot is the truth of one rendered part, stored beside its picture.
type shot struct {
	Card   string     `json:"card"` // all parts of one card share it
	Form   string     `json:"form"`
	Part   string     `json:"part"`
	Level  string     `json:"level"`
	Writer int        `json:"writer"`
	Plan   fill.Plan  `json:"plan"`
	Truth  fill.Truth `json:"truth"`
	Faults []string   `json:"faults"`
}

// job is one card to render.
type job struct {
	form  *form
	level camera.Level
	hand  *hands.Hand
	busy  *sync.Mutex // of the hand: its memory of glyphs serves one card at a time
	seed  uint64
}

// render fills and photographs cards into folder until all jobs are done; existing ones are kept.
func render(folder string, jobs []job, workers int) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	return share(jobs, workers, func(_ int, j job) error { return j.run(folder) })
}

// share gives jobs to workers, which are counted from 0, until all are done; it returns the first error that comes.
func share[T any](jobs []T, workers int, do func(worker int, j T) error) error {
	queue := make(chan T)
	failed := make(chan error, 1)
	var wg sync.WaitGroup
	for worker := range workers {
		wg.Go(func() {
			for j := range queue {
				if err := do(worker, j); err != nil {
					select {
					case failed <- err:
					default:
					}
				}
			}
		})
	}
	for _, j := range jobs {
		queue <- j
	}
	close(queue)
	wg.Wait()
	select {
	case err := <-failed:
		return err
	default:
		return nil
	}
}

// run renders one card.
func (j job) run(folder string) error {
	j.busy.Lock()
	defer j.busy.Unlock()
	card := fmt.Sprintf("%s-%s-%04d-%06d", j.level.Name, j.form.name, j.hand.Writer, j.seed)
	rng := rand.New(rand.NewPCG(j.seed, 0xca11b))
	plan := drawPlan(j.form.layout, rng)
	pen := hand.DrawWriter(j.level.Pens(), rng)
	// Front and back are two photos, the parts of a side one.
	shots := map[sheetmodel.SideName]camera.Shot{}
	for _, p := range j.form.parts {
		s, ok := shots[p.Side.Name]
		if !ok {
			s = j.level.Draw(fill.SceneOf(p.Side, image.Point{}), rng)
			shots[p.Side.Name] = s
		}
		base := filepath.Join(folder, card+"-"+p.Name)
		if _, err := os.Stat(base + ".json"); err == nil {
			continue
		}
		ink := hand.NewInk(p.Rect.Grow(2), inkPxPerMM)
		truth := fill.Side(ink, p.whole, plan, fill.Writer{Pen: pen, Digits: j.hand}, rng)
		paper := cut(j.form.drawn[p.Side.Name], p.Rect, inkPxPerMM)
		ink.Over(paper)
		patch, err := s.View().TakePatch(camera.Sheet{Image: paper, PxPerMM: inkPxPerMM}, p.Rect)
		if err != nil {
			return fmt.Errorf("card %s: %w", card, err)
		}
		page := patch.Straighten(p.Rect, pagePxPerMM, straightening(rng))
		meta := shot{
			Card: card, Form: j.form.name, Part: p.Name, Level: j.level.Name, Writer: j.hand.Writer, Plan: plan, Truth: truth,
		}
		for _, f := range s.Faults {
			meta.Faults = append(meta.Faults, string(f.Kind))
		}
		if err := store(base, page, meta); err != nil {
			return err
		}
	}
	return nil
}

// straightening is the error that is left after straightening, as scan/report.md has it: a shift of
// 0.08 mm standard deviation and a stretch or turn of 0.1 % over the part.
func straightening(rng *rand.Rand) func(sheetmodel.SheetPoint) sheetmodel.SheetPoint {
	dx, dy := 0.08*rng.NormFloat64(), 0.08*rng.NormFloat64()
	a, b := 0.001*rng.NormFloat64(), 0.001*rng.NormFloat64()
	return func(p sheetmodel.SheetPoint) sheetmodel.SheetPoint {
		x, y := float64(p.X)-70, float64(p.Y)-100
		return sheetmodel.SheetPoint{X: p.X + sheetmodel.MM(dx+a*x+b*y), Y: p.Y + sheetmodel.MM(dy-b*x+a*y)}
	}
}

// store writes picture and truth; the truth last, as the sign that both are there.
func store(base string, page *image.Gray, meta shot) error {
	f, err := os.Create(base + ".png")
	if err != nil {
		return err
	}
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(f, page); err != nil {
		return fmt.Errorf("%s: %w", base, err)
	}
	if err := f.Close(); err != nil {
		return err
	}
	b, err := json.Marshal(meta)
	if err != nil {
		return err
	}
	return os.WriteFile(base+".json", b, 0o644)
}
