package strips

import (
	"fmt"
	"image"
	"image/draw"
	"math"
	"math/rand/v2"

	"gatefold/ocr/crop"
	"gatefold/ocr/train/cells"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// Field is one written field, photographed.
type Field struct {
	sheetmodel.Field
	Type   Type
	Text   string // what its ink says, with Junk; empty: nothing
	Meant  string // what its writer meant
	Spoil  Spoil
	Writer int
	// Page is the straightened part of the page around the field.
	Page crop.Page

	pen    *hand.Writer
	shot   camera.Shot // the last one
	glyphs map[*traced]bool
}

// Strip is the field as the cell net sees it.
func (f *Field) Strip() crop.Strip { return crop.TakeStrip(f.Page, f.Rect) }

// What is photographed around a field, and the page's resolution, as scan's default has it.
const (
	aroundMM    = 3.0
	pagePxPerMM = 8.0
)

// Options of a drawing.
type Options struct {
	Level  camera.Level
	Writer int
	Wild   bool // shapes changed, to teach; figures are measured on tame ones
	Shots  int  // photos of each writing, at least 1
	// Text is written plainly, if not empty; else a text of the field's type is drawn, and what goes wrong with it.
	Text string
	// Beside is a field in which the same person has written the same, with the same pen on the same photo: then it is
	// written once more, plainly, with other glyphs of theirs. One photo is taken.
	Beside *Field
}

// Draw lets one person write in one field of the bench, the fields beside it too, and photographs it.
func (s *Source) Draw(b *Bench, only []Type, o Options, rng *rand.Rand) ([]Field, error) {
	f := b.pick(only, rng)
	pen := hand.DrawWriter(o.Level.Pens(), rng)
	if o.Beside != nil {
		pen, o.Writer, o.Text, o.Shots = o.Beside.pen, o.Beside.Writer, o.Beside.Meant, 1
	}
	part := f.Rect.Grow(aroundMM)
	part.X, part.Y = floored(part.X), floored(part.Y)
	part.W, part.H = floored(part.W)+1, floored(part.H)+1
	ink := hand.NewInk(part.Grow(2.5), benchPxPerMM)
	w := field{src: s, writer: o.Writer, pen: pen, ink: ink, rng: rng, tight: -0.02 + 0.3*rng.Float64(), wild: o.Wild, used: map[*traced]bool{}}
	if o.Beside != nil {
		w.avoid = o.Beside.glyphs
	}
	out := Field{Field: f.Field, Type: f.typ, Spoil: drawSpoil(rng), Writer: o.Writer}
	if o.Text != "" {
		out.Spoil = Clean
	}
	for {
		if out.Meant = o.Text; out.Meant != "" {
			break
		}
		out.Meant = DrawText(f.typ, rng)
		if f.typ != Comb || len(out.Meant) <= f.Boxes {
			break
		}
	}
	if f.typ == Comb {
		out.Text = w.comb(out.Meant, f.Rect, f.Boxes, out.Spoil)
	} else {
		out.Text = w.write(out.Meant, f.Rect, out.Spoil)
	}
	for _, n := range b.fields {
		if n.Name != f.Name && n.Rect.Overlaps(part.Grow(2)) && rng.Float64() < 0.6 {
			text := DrawText(n.typ, rng)
			if n.typ == Comb {
				for len(text) > n.Boxes {
					text = text[1:]
				}
				w.comb(text, n.Rect, n.Boxes, Clean)
			} else {
				w.write(text, n.Rect, Clean)
			}
		}
	}
	paper := image.NewGray(image.Rect(ink.MinX, ink.MinY, ink.MinX+ink.W, ink.MinY+ink.H))
	draw.Draw(paper, paper.Rect, image.White, image.Point{}, draw.Src)
	draw.Draw(paper, paper.Rect.Intersect(b.paper.Rect), b.paper, paper.Rect.Intersect(b.paper.Rect).Min, draw.Src)
	ink.Over(paper)
	var all []Field
	for range max(1, o.Shots) {
		shot := o.Level.Draw(fill.SceneOf(b.Side, image.Point{}), rng)
		if o.Beside != nil {
			shot = o.Beside.shot
		}
		patch, err := shot.View().TakePatch(camera.Sheet{Image: paper, PxPerMM: benchPxPerMM}, part)
		if err != nil {
			return nil, fmt.Errorf("field %s: %w", f.Name, err)
		}
		one := out
		one.pen, one.shot, one.glyphs = pen, shot, w.used
		one.Page = crop.FromGray(patch.Straighten(part, pagePxPerMM, off.Draw(rng)), pagePxPerMM)
		one.Page.OriginX, one.Page.OriginY = int(math.Round(float64(part.X)*pagePxPerMM)), int(math.Round(float64(part.Y)*pagePxPerMM))
		all = append(all, one)
	}
	return all, nil
}

// DrawTwice lets one person write one bib in two cells, as in a row and in the strip below a panel, and photographs both.
func (s *Source) DrawTwice(b *Bench, o Options, rng *rand.Rand) ([]Field, error) {
	o.Text, o.Shots = DrawText(Bib, rng), 1
	first, err := s.Draw(b, []Type{Bib}, o, rng)
	if err != nil {
		return nil, err
	}
	o.Beside = &first[0]
	second, err := s.Draw(b, []Type{Bib}, o, rng)
	return append(first, second...), err
}

// pick draws a field of one of the types, each type equally likely; all of them if none is named.
func (b *Bench) pick(only []Type, rng *rand.Rand) benchField {
	if len(only) == 0 {
		only = append([]Type{Comb}, Types...)
	}
	t := only[rng.IntN(len(only))]
	if t == Panel { // a letter, where a card has its codes
		f := b.pick([]Type{Code}, rng)
		f.typ, f.Grammar = Panel, GrammarOf(Panel)
		return f
	}
	var of []benchField
	for _, f := range b.fields {
		if f.typ == t {
			of = append(of, f)
		}
	}
	if len(of) == 0 {
		of = b.fields
	}
	return of[rng.IntN(len(of))]
}

func floored(v sheetmodel.MM) sheetmodel.MM { return sheetmodel.MM(math.Floor(float64(v))) }

// off is a fifth of a millimetre, now and then more. Whole photos leave less (scan/report.md); pages of folded or curled
// cards more.
var off = cells.Astray{Usual: 0.12, Seldom: 0.3, Slope: 0.004}
