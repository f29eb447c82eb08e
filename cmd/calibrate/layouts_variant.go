package main

import (
	"bytes"
	"fmt"
	"os"

	"gatefold/sheetmodel"
)

// templateFile is the shipped card, which the variants of the layout study alter. The study is run from the
// root of the source.
const templateFile = "sheetmodel/layouts/gate-card.yaml"

// variant is one way to print the card. Variants are for the study alone: nobody is offered them.
type variant struct {
	Name string
	What string // in a few words, for tables
	Cost string // what the card would lose or need

	second bool        // print the second box
	text   [][2]string // replacements in the template, once each
	draw   func(s *sheetmodel.Side)
	box    func(f sheetmodel.Field, i int) sheetmodel.Rect // what the writer sees as a box; nil: all of it
	steady float64                                         // where positive, how much of a writer's shift and jitter stays
	rows   map[int]int                                     // the row that an event is written in; nil: its own number
	digits bool                                            // codes are digits in a box
	back   bool                                            // differs on the back: the front is the base's
}

// Columns of the shipped card that variants replace.
const (
	bibColumn   = `bib, kind: comb, boxes: 3, grammar: bib, x: 6, w: 24,`
	codeColumn  = `{part: code, kind: choice, options: codes, grammar: code, x: 31, w: 35, example: x}`
	otherColumn = `{part: code-other, kind: cell, grammar: code, x: 66, w: 12,`
	gateColumn  = `gate, kind: comb, boxes: 3, grammar: gate, x: 79, w: 21,`
	rowBlocks   = "pitch: 10\n        blocks: [{y: 63, rows: 5}, {y: 125, rows: 5}]"
	fewRows     = "pitch: 11\n        blocks: [{y: 63, rows: 4}, {y: 125, rows: 4}]"
	stripEntry  = `entry: {h: 9, right: 23.4, boxes_4: 26.9}`
)

// wide makes the boxes of bibs 9 mm and those of gates 8 mm wide.
var wide = [][2]string{
	{bibColumn, `bib, kind: comb, boxes: 3, grammar: bib, x: 6, w: 27,`},
	{codeColumn, `{part: code, kind: choice, options: codes, grammar: code, x: 34, w: 29, example: x}`},
	{otherColumn, `{part: code-other, kind: cell, grammar: code, x: 63, w: 12,`},
	{gateColumn, `gate, kind: comb, boxes: 3, grammar: gate, x: 76, w: 24,`},
}

// fewRowsOf says in which of eight rows an event of ten rows is written.
var fewRowsOf = map[int]int{1: 1, 2: 2, 3: 3, 4: 4, 6: 5, 7: 6, 8: 7, 9: 8}

// variants of the study, the base first.
var variants = []variant{
	{Name: "base", What: "the shipped card: bib boxes 8 × 10 mm, gate boxes 7 × 10, shared walls, ticked codes"},
	{
		Name: "boxes-6", What: "bib and gate boxes 6 mm wide", Cost: "none: 9 mm of width won",
		text: [][2]string{
			{bibColumn, `bib, kind: comb, boxes: 3, grammar: bib, x: 6, w: 18,`},
			{gateColumn, `gate, kind: comb, boxes: 3, grammar: gate, x: 79, w: 18,`},
		},
	},
	{
		Name: "boxes-7", What: "bib boxes 7 mm, gate boxes 6.5", Cost: "none: 4.5 mm of width won",
		text: [][2]string{
			{bibColumn, `bib, kind: comb, boxes: 3, grammar: bib, x: 6, w: 21,`},
			{gateColumn, `gate, kind: comb, boxes: 3, grammar: gate, x: 79, w: 19.5,`},
		},
	},
	{Name: "boxes-9", What: "bib boxes 9 mm, gate boxes 8", Cost: "code boxes 5.0 instead of 6.2 mm", text: wide},
	{
		Name: "boxes-10", What: "bib boxes 10 mm, gate boxes 9", Cost: "code boxes 4.2 instead of 6.2 mm, a quarter of the cell for other codes",
		text: [][2]string{
			{bibColumn, `bib, kind: comb, boxes: 3, grammar: bib, x: 6, w: 30,`},
			{codeColumn, `{part: code, kind: choice, options: codes, grammar: code, x: 37, w: 25, example: x}`},
			{otherColumn, `{part: code-other, kind: cell, grammar: code, x: 62, w: 9,`},
			{gateColumn, `gate, kind: comb, boxes: 3, grammar: gate, x: 72, w: 27,`},
		},
	},
	{
		Name: "boxes-9-rows-11", What: "both: bib boxes 9 × 11 mm, gate boxes 8 × 11", Cost: "two rows; code boxes 5.0 mm",
		text: append([][2]string{{rowBlocks, fewRows}}, wide...), rows: fewRowsOf,
	},
	{
		Name: "boxes-9-kept", What: "boxes-9, and writers who keep 0.5 mm off the walls", Cost: "an assumption, not a finding: what gaps would win if the reader were used to them",
		text: wide, box: within(1),
	},
	{
		Name: "gap-1", What: "separate boxes, 1 mm apart, at the base's pitch: bib 7 mm, gate 6", Cost: "none",
		draw: func(s *sheetmodel.Side) { separate(s, 1) }, box: within(1),
	},
	{
		Name: "gap-1-wide", What: "separate boxes as wide as the base's, 1 mm apart", Cost: "code boxes 5.0 instead of 6.2 mm",
		text: wide, draw: func(s *sheetmodel.Side) { separate(s, 1) }, box: within(1),
	},
	{
		Name: "rows-apart", What: "boxes 8 mm high in rows of 10: 2 mm free between rows", Cost: "none",
		draw: func(s *sheetmodel.Side) { apart(s, 2) },
	},
	{
		Name: "rows-9", What: "rows of 9 mm", Cost: "none: 10 mm of height won, no eleventh row",
		text: [][2]string{{rowBlocks, "pitch: 9\n        blocks: [{y: 63, rows: 5}, {y: 125, rows: 5}]"}},
	},
	{
		Name: "rows-11", What: "rows of 11 mm", Cost: "two rows: eight instead of ten",
		text: [][2]string{{rowBlocks, fewRows}}, rows: fewRowsOf,
	},
	{Name: "no-walls", What: "frames without walls between the boxes", Cost: "none; a hand may lose its boxes", draw: noWalls},
	{Name: "corners", What: "ticks at the boxes' corners instead of frames", Cost: "none; a hand may lose its boxes", draw: corners},
	{Name: "foot-line", What: "a pale line 1.5 mm above each box's foot", Cost: "none", draw: footLine},
	{
		Name: "foot-line-kept", What: "the same, and writers who keep to it: half their shift and jitter", Cost: "none; an assumption, not a finding",
		draw: footLine, steady: 0.5,
	},
	{Name: "dark", What: "comb lines 0.35 mm, black", Cost: "none", draw: func(s *sheetmodel.Side) { redraw(s, 0.35, 0, 0) }},
	{Name: "pale", What: "comb lines 0.18 mm, frames 45 %, walls 25 % black", Cost: "none; hard to see in dull light", draw: func(s *sheetmodel.Side) { redraw(s, 0.18, 0.55, 0.75) }},
	{Name: "dotted", What: "comb lines of black dots, 0.25 mm, one a mm", Cost: "none", draw: dotted},
	{Name: "second-box", What: "the shipped card with a second box: bib 7 mm, again 6.3, gate 6", Cost: "code boxes 5.0 instead of 6.2 mm", second: true},
	{
		Name: "code-narrow", What: "code boxes 4.1 mm wide", Cost: "none: 10.5 mm of width won",
		text: [][2]string{{codeColumn, `{part: code, kind: choice, options: codes, grammar: code, x: 31, w: 24.5, example: x}`}},
	},
	{
		Name: "code-wide", What: "code boxes 7.4 mm wide", Cost: "half of the cell for other codes",
		text: [][2]string{
			{codeColumn, `{part: code, kind: choice, options: codes, grammar: code, x: 31, w: 41, example: x}`},
			{otherColumn, `{part: code-other, kind: cell, grammar: code, x: 72, w: 6,`},
		},
	},
	{
		Name: "code-digit", What: "the code written as one digit in a box of 8 mm", Cost: "none: 27 mm of width won; nobody knows what a 3 means",
		text: [][2]string{{codeColumn, `{part: code, kind: comb, boxes: 1, grammar: gate, x: 31, w: 8}`}}, digits: true,
	},
	{Name: "strip", What: "the shipped strip: boxes 7.8 × 9 mm", back: true},
	{
		Name: "strip-tall", What: "strip boxes 7.8 × 11 mm", Cost: "6 mm of each drawing", back: true,
		text: [][2]string{{stripEntry, `entry: {h: 11, right: 23.4, boxes_4: 26.9}`}},
	},
	{
		Name: "strip-wide", What: "strip boxes 8.9 × 9 mm", Cost: "the word bibs beside them", back: true,
		text: [][2]string{{stripEntry, `entry: {h: 9, right: 26.7, boxes_4: 26.9}`}},
	},
}

// layout is the card of a variant. The error is that of a template without what the variant replaces.
func (v variant) layout() (*sheetmodel.Layout, error) {
	text, err := os.ReadFile(templateFile)
	if err != nil {
		return nil, fmt.Errorf("%w; run this from the root of the source", err)
	}
	for _, r := range v.text {
		if !bytes.Contains(text, []byte(r[0])) {
			return nil, fmt.Errorf("variant %s: %s has no %q", v.Name, templateFile, r[0])
		}
		text = bytes.Replace(text, []byte(r[0]), []byte(r[1]), 1)
	}
	t, err := sheetmodel.ParseTemplate(v.Name, text)
	if err != nil {
		return nil, err
	}
	l, err := t.Bind(sheetmodel.BindOptions{SecondWriting: v.second})
	if err != nil {
		return nil, fmt.Errorf("variant %s: %w", v.Name, err)
	}
	if v.draw != nil {
		v.draw(l.Side(sheetmodel.Front))
	}
	return l, nil
}

// rowOf is the row in which the variant has event n; false if it has no room for it.
func (v variant) rowOf(n int) (int, bool) {
	if v.rows == nil {
		return n, true
	}
	row, ok := v.rows[n]
	return row, ok
}

// Lines of the shipped combs, as sheetmodel/print draws them.
const (
	shippedLine   = 0.25 // mm
	shippedBorder = 0.25 // grey
	shippedWall   = 0.55
)

// inRows lists the combs of bibs and gates in the rows, which the study redraws.
func inRows(s *sheetmodel.Side) []sheetmodel.Field {
	var all []sheetmodel.Field
	for _, f := range s.Fields {
		if f.Row > 0 && f.Kind == sheetmodel.Comb {
			all = append(all, f)
		}
	}
	return all
}

// stroke prints a straight line.
func stroke(s *sheetmodel.Side, x0, y0, x1, y1, width sheetmodel.MM, grey float64) {
	s.Print = append(s.Print, sheetmodel.PrintItem{
		Line: []sheetmodel.SheetPoint{{X: x0, Y: y0}, {X: x1, Y: y1}}, Width: width, Grey: grey,
	})
}

// walls prints the inner lines of a comb, frame its outline.
func walls(s *sheetmodel.Side, f sheetmodel.Field, width sheetmodel.MM, grey float64) {
	for i := 1; i < f.Boxes; i++ {
		b := f.Rect.Box(i, f.Boxes)
		stroke(s, b.X, b.Y, b.X, b.Y+b.H, width, grey)
	}
}

func frame(s *sheetmodel.Side, r sheetmodel.Rect, width sheetmodel.MM, grey float64) {
	h := width / 2 // so that corners are whole
	stroke(s, r.X-h, r.Y, r.X+r.W+h, r.Y, width, grey)
	stroke(s, r.X-h, r.Y+r.H, r.X+r.W+h, r.Y+r.H, width, grey)
	stroke(s, r.X, r.Y, r.X, r.Y+r.H, width, grey)
	stroke(s, r.X+r.W, r.Y, r.X+r.W, r.Y+r.H, width, grey)
}

// bare takes the printed lines of all combs off: white over black, since a layout has no other way to say it.
func bare(s *sheetmodel.Side) []sheetmodel.Field {
	const over = shippedLine + 0.15
	combs := inRows(s)
	for _, f := range combs {
		walls(s, f, over, 1)
		frame(s, f.Rect, over, 1)
	}
	return combs
}

func redraw(s *sheetmodel.Side, width sheetmodel.MM, border, wall float64) {
	for _, f := range bare(s) {
		walls(s, f, width, wall)
		frame(s, f.Rect, width, border)
	}
}

// within is what a writer sees as a box where gap mm are left between the boxes of a row.
func within(gap sheetmodel.MM) func(f sheetmodel.Field, i int) sheetmodel.Rect {
	return func(f sheetmodel.Field, i int) sheetmodel.Rect {
		b := f.Rect.Box(i, f.Boxes)
		if f.Row == 0 {
			return b
		}
		return sheetmodel.Rect{X: b.X + gap/2, Y: b.Y, W: b.W - gap, H: b.H}
	}
}

// separate prints boxes with gap mm between them. A layout can't say so: the reader takes half of each gap
// for part of the box beside it.
func separate(s *sheetmodel.Side, gap sheetmodel.MM) {
	box := within(gap)
	for _, f := range bare(s) {
		for i := range f.Boxes {
			frame(s, box(f, i), shippedLine, shippedBorder)
		}
	}
}

// apart makes combs lower, with free mm from row to row.
func apart(s *sheetmodel.Side, free sheetmodel.MM) {
	for _, f := range bare(s) {
		own := s.Field(f.Name)
		own.Rect.Y, own.Rect.H = own.Rect.Y+free/2, own.Rect.H-free
		walls(s, *own, shippedLine, shippedWall) // what was taken off went through them
		frame(s, own.Rect, shippedLine, shippedBorder)
	}
}

func noWalls(s *sheetmodel.Side) {
	for _, f := range bare(s) {
		frame(s, f.Rect, shippedLine, shippedBorder)
	}
}

func corners(s *sheetmodel.Side) {
	const long = 1.2 // mm
	for _, f := range bare(s) {
		for i := range f.Boxes + 1 {
			x := f.Rect.X + f.Rect.W*sheetmodel.MM(i)/sheetmodel.MM(f.Boxes)
			left, right := max(x-long, f.Rect.X), min(x+long, f.Rect.X+f.Rect.W)
			for _, y := range []sheetmodel.MM{f.Rect.Y, f.Rect.Y + f.Rect.H} {
				stroke(s, left, y, right, y, shippedLine, shippedBorder)
			}
			stroke(s, x, f.Rect.Y, x, f.Rect.Y+long, shippedLine, shippedBorder)
			stroke(s, x, f.Rect.Y+f.Rect.H-long, x, f.Rect.Y+f.Rect.H, shippedLine, shippedBorder)
		}
	}
}

func footLine(s *sheetmodel.Side) {
	const above = 1.5 // mm
	for _, f := range inRows(s) {
		y := f.Rect.Y + f.Rect.H - above
		stroke(s, f.Rect.X, y, f.Rect.X+f.Rect.W, y, 0.15, 0.7)
	}
}

func dotted(s *sheetmodel.Side) {
	const side = 0.25 // mm
	dot := func(x, y sheetmodel.MM) { stroke(s, x-side/2, y, x+side/2, y, side, 0) }
	for _, f := range bare(s) {
		for i := range f.Boxes + 1 {
			x := f.Rect.X + f.Rect.W*sheetmodel.MM(i)/sheetmodel.MM(f.Boxes)
			for y := f.Rect.Y; y <= f.Rect.Y+f.Rect.H+0.01; y++ {
				dot(x, y)
			}
		}
		for x := f.Rect.X; x <= f.Rect.X+f.Rect.W+0.01; x++ {
			dot(x, f.Rect.Y)
			dot(x, f.Rect.Y+f.Rect.H)
		}
	}
}
