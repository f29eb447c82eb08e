package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/draw"
	_ "image/png" // pages
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"

	"gatefold/cmd/internal/hands"
	"gatefold/cmd/internal/reading"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// What eyes are shown. A bib that machine and eye misread alike stands as two looks: how often that
// happens can't be known from machines alone. Every bib that the machine misread is shown, and others
// among them, so that whoever types can't tell which is which.
const (
	eyeSeeds  = 20_000_000 // apart from all shards
	eyeOthers = 250        // of each level
	eyeAround = 2.0        // mm of paper around a bib, as on the page
)

// eyeItem is one bib written once and well.
type eyeItem struct {
	No       int     `json:"no"` // on the sheets of pictures, from 1; 0: not shown
	Level    string  `json:"level"`
	Seed     uint64  `json:"seed"`
	Field    string  `json:"field"`
	Writer   int     `json:"writer"`
	Glyphs   []int   `json:"glyphs"`
	Truth    string  `json:"truth"`
	Machine  string  `json:"machine"` // empty: no number could be read
	Score    float64 `json:"certainty"`
	Clear    bool    `json:"clear"`
	Alone    bool    `json:"alone"` // no plausible rival: a blind entry beside it is a second look
	JudgeOnl bool    `json:"judge"` // a doubt that only its judge ends; no blind entry makes it a call

	// Crop is the picture's file below -work/eye. Box is the comb in it, in px from its top left.
	Crop    string     `json:"crop"`
	Box     [4]float64 `json:"box_px"` // x, y, w, h
	PxPerMM float64    `json:"px_per_mm"`
	Boxes   int        `json:"boxes"`

	crop *image.Gray
}

// eyeShow draws cards in report writers' hands and keeps what eyes are to be shown below -work.
func eyeShow(ctx context.Context, s settings) (err error) {
	benchers, closeAll, err := openBenchers(ctx, hands.Report, 1, reading.Options{KeepPages: true})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, closeAll()) }()
	b := benchers[0]
	if err := logLook(ctx, s, fmt.Sprintf("bibs for eyes: %d ordinary and %d hard fronts from seed %d", s.sizes.ordinary, s.sizes.hard, eyeSeeds), b.reader.Version()); err != nil {
		return err
	}
	made, err := madeNow(ctx, eyeSeeds, eyeSeeds+uint64(s.sizes.ordinary+s.sizes.hard)-1)
	if err != nil {
		return err
	}
	dir := filepath.Join(s.work, "eye")
	if err := os.MkdirAll(filepath.Join(dir, "crops"), 0o755); err != nil {
		return err
	}
	var all []eyeItem
	for level, n := range map[string]int{camera.Ordinary: s.sizes.ordinary, camera.Hard: s.sizes.hard} {
		first := uint64(eyeSeeds)
		if level == camera.Hard {
			first += uint64(s.sizes.ordinary)
		}
		for i := range n {
			items, err := b.eyeCard(ctx, level, first+uint64(i))
			if err != nil {
				return fmt.Errorf("%s %d: %w", level, first+uint64(i), err)
			}
			for k := range items {
				if err := writePNG(filepath.Join(dir, items[k].Crop), items[k].crop); err != nil {
					return err
				}
			}
			all = append(all, items...)
			if (i+1)%50 == 0 {
				fmt.Printf("%s: %d of %d cards, %d bibs so far\n", level, i+1, n, len(all))
			}
		}
	}
	slices.SortFunc(all, func(a, b eyeItem) int { return int(a.Seed) - int(b.Seed) })
	shown := pickForEyes(all)
	if err := drawEyeSheets(dir, shown); err != nil {
		return err
	}
	sealed, err := json.Marshal(eyeFile{Made: made, Reader: b.reader.Version(), Items: all})
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "sealed.json"), sealed, 0o644)
}

// eyeFile is what the eyes must not see before they have typed.
type eyeFile struct {
	Made   MadeWith  `json:"made"`
	Reader string    `json:"reader"`
	Items  []eyeItem `json:"items"`
}

// eyeCard reads the front of one card and returns its well-written bibs.
func (b *bencher) eyeCard(ctx context.Context, level string, seed uint64) ([]eyeItem, error) {
	rng := rand.New(rand.NewPCG(seed, 0x657965))
	layout := b.layouts[0]
	front, back := layout.Side(sheetmodel.Front), layout.Side(sheetmodel.Back)
	h := b.hands[rng.IntN(len(b.hands))]
	lv := camera.Levels()[level]
	w := fill.Writer{Pen: hand.DrawWriter(lv.Pens(), rng), Digits: h}
	plan := drawPlan(front, back, false, rng)
	id := sheetmodel.Identity{
		Run: 1 + rng.IntN(2), Course: 1 + rng.IntN(3), Card: 1 + rng.IntN(60),
		Race: sheetmodel.RaceHash("bench"), Layout: layout.HashStart(), Side: sheetmodel.Front,
	}
	written, err := fill.Write(front, print.CardPrint{Race: "Bench", Date: "2027-01-23", Identity: id}, plan, w, rng)
	if err != nil {
		return nil, err
	}
	shot := lv.Draw(fill.SceneOf(front, image.Point{}), rng)
	view := shot.View()
	photo, err := view.Take(written.Sheet, 1)
	if err != nil {
		return nil, err
	}
	name := fmt.Sprintf("%s %d front", level, seed)
	got, err := b.reader.Read(ctx, name, photo.JPEG)
	if err != nil {
		return nil, err
	}
	card := newTally().scanned(level, name, front, view, id, got)
	if card == nil {
		return nil, nil
	}
	page, _, err := image.Decode(bytes.NewReader(card.Page))
	if err != nil {
		return nil, fmt.Errorf("%s: page: %w", name, err)
	}
	var items []eyeItem
	for _, r := range plan.Rows {
		field := fmt.Sprintf("row-%02d.bib", r.Number)
		want := written.Truth[field]
		if r.Struck || want.Spoil != fill.Clean || want.Text == "" {
			continue
		}
		for _, f := range card.Fields {
			if f.Name != field {
				continue
			}
			it := eyeItem{
				Level: level, Seed: seed, Field: field, Writer: h.Writer, Glyphs: want.Glyphs, Truth: want.Text, Machine: f.Text,
				Score: f.Certainty, Clear: f.State == sheetmodel.Clear, Alone: slices.Contains(card.Alone, field),
				JudgeOnl: slices.ContainsFunc(f.Reasons, func(d sheetmodel.Doubt) bool {
					return d.Kind == sheetmodel.DoubtQuestionMark || d.Kind == sheetmodel.DoubtStruckOut || d.Kind == sheetmodel.DoubtHidden
				}),
			}
			comb := front.Field(field)
			part := comb.Rect.Union(f.Region).Grow(eyeAround)
			var from image.Point
			it.crop, from = cropOf(page, card.PxPerMM, part)
			a := sheetmodel.PageFromSheet(sheetmodel.SheetPoint{X: comb.Rect.X, Y: comb.Rect.Y}, card.PxPerMM)
			it.Box = [4]float64{a.X - float64(from.X), a.Y - float64(from.Y), float64(comb.Rect.W) * card.PxPerMM, float64(comb.Rect.H) * card.PxPerMM}
			it.PxPerMM, it.Boxes = card.PxPerMM, comb.Boxes
			it.Crop = fmt.Sprintf("crops/%d-%s.png", seed, field)
			items = append(items, it)
		}
	}
	return items, nil
}

// cropOf cuts a rectangle of the sheet out of a straightened page; from is its top left px on the page.
func cropOf(page image.Image, pxPerMM float64, r sheetmodel.Rect) (cut *image.Gray, from image.Point) {
	a := sheetmodel.PageFromSheet(sheetmodel.SheetPoint{X: r.X, Y: r.Y}, pxPerMM)
	z := sheetmodel.PageFromSheet(sheetmodel.SheetPoint{X: r.X + r.W, Y: r.Y + r.H}, pxPerMM)
	in := image.Rect(int(a.X), int(a.Y), int(z.X)+1, int(z.Y)+1).Intersect(page.Bounds())
	out := image.NewGray(image.Rect(0, 0, in.Dx(), in.Dy()))
	draw.Draw(out, out.Bounds(), page, in.Min, draw.Src)
	return out, in.Min
}

// pickForEyes numbers what is shown, in an order that tells nothing: all misread ones, and others.
func pickForEyes(all []eyeItem) []eyeItem {
	rng := rand.New(rand.NewPCG(eyeSeeds, 0x73686f77))
	var pick []int
	for _, level := range []string{camera.Ordinary, camera.Hard} {
		var right []int
		for i, it := range all {
			switch {
			case it.Level != level, it.Machine == "": // a bib read to nothing stands by no machine
			case it.Machine != it.Truth:
				pick = append(pick, i)
			default:
				right = append(right, i)
			}
		}
		rng.Shuffle(len(right), func(i, j int) { right[i], right[j] = right[j], right[i] })
		pick = append(pick, right[:min(eyeOthers, len(right))]...)
	}
	rng.Shuffle(len(pick), func(i, j int) { pick[i], pick[j] = pick[j], pick[i] })
	shown := make([]eyeItem, len(pick))
	for k, i := range pick {
		all[i].No = k + 1
		shown[k] = all[i]
	}
	return shown
}
