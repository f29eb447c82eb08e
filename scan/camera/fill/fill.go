package fill

import (
	"math/rand/v2"

	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// Wrote is what one field says, as its writer meant it.
type Wrote struct {
	Text  string `json:"text"` // empty: nothing written
	Spoil Spoil  `json:"spoil,omitempty"`
	// Glyphs names the glyphs of its digits, as Digits does.
	Glyphs []int `json:"-"`
}

// Truth is what every written field of one side says, by field name. Fields left out are empty.
type Truth map[string]Wrote

// Writer is one person with a pen and a hand.
type Writer struct {
	Pen    *hand.Writer
	Digits Digits
	// Box says what the writer sees as box i of a comb; nil: an equal share of the comb, as the layout has it.
	Box func(comb sheetmodel.Field, i int) sheetmodel.Rect
}

func (w Writer) box(comb sheetmodel.Field, i int) sheetmodel.Rect {
	if w.Box != nil {
		return w.Box(comb, i)
	}
	return comb.Rect.Box(i, comb.Boxes)
}

// Side writes plan's part of one side onto ink, which must cover it, and returns the truth.
//
// Fields that the layout lacks are left out of ink and truth alike.
func Side(ink *hand.Ink, side *sheetmodel.Side, plan Plan, w Writer, rng *rand.Rand) Truth {
	j := job{ink: ink, side: side, w: w, rng: rng, truth: Truth{}}
	// The layout's order, not a map's, so that one seed gives one card.
	for _, f := range side.Fields {
		if text := plan.Header[f.Name]; text != "" && f.Row == 0 {
			j.write(f, text, Clean)
		}
	}
	for _, row := range plan.Rows {
		j.row(row)
	}
	for _, p := range plan.Panels {
		j.panel(p)
	}
	if plan.GatesSketched {
		j.sketch(plan)
	}
	return j.truth
}

// job is one side being written.
type job struct {
	ink   *hand.Ink
	side  *sheetmodel.Side
	w     Writer
	rng   *rand.Rand
	truth Truth
	used  []int // glyphs of the field at hand
}

func (j *job) row(row Row) {
	var all sheetmodel.Rect
	for i, f := range j.side.RowFields(row.Number) {
		if i == 0 {
			all = f.Rect
		} else {
			all = all.Union(f.Rect)
		}
		switch f.Part {
		case sheetmodel.PartBib:
			j.write(f, row.Bib, row.BibSpoil)
		case sheetmodel.PartBibAgain:
			j.write(f, row.BibAgain, Clean)
		case sheetmodel.PartCode:
			j.write(f, row.Code, Clean)
		case sheetmodel.PartGate:
			j.write(f, row.Gate, row.GateSpoil)
		case sheetmodel.PartPanel:
			j.write(f, row.Panel, Clean)
		case sheetmodel.PartRerun:
			if row.Rerun {
				j.write(f, "x", Clean)
			}
		default: // no plan fills the rest of a row
		}
	}
	if row.Struck && all.W > 0 {
		j.w.Pen.StrikeRow(j.ink, all, j.rng)
	}
}

func (j *job) panel(p Panel) {
	entry := 0
	for _, f := range j.side.Fields {
		if f.Panel != p.Letter {
			continue
		}
		switch f.Part {
		case sheetmodel.PartBib:
			if entry < len(p.Bibs) {
				j.write(f, p.Bibs[entry], p.Spoil)
				entry++
			}
		case sheetmodel.PartDrawing:
			if p.Path {
				j.w.Pen.Mark(j.ink, hand.PathSketch, f.Rect.Grow(-3), j.rng)
				j.truth[f.Name] = Wrote{Text: "drawing"}
			}
		default: // no plan fills the rest of a panel
		}
	}
}

// sketch draws the gates into every panel, as judges do before the start.
func (j *job) sketch(plan Plan) {
	for _, f := range j.side.Fields {
		if f.Part != sheetmodel.PartDrawing || f.Panel == "" {
			continue
		}
		j.w.Pen.Mark(j.ink, hand.GateSketch, f.Rect.Grow(-3), j.rng)
		if j.truth[f.Name].Text == "" {
			j.truth[f.Name] = Wrote{Text: "gates"}
		}
	}
}

// write fills one field by its kind.
func (j *job) write(f sheetmodel.Field, text string, spoil Spoil) {
	if text == "" && spoil != Dash {
		return
	}
	j.used = nil
	switch f.Kind {
	case sheetmodel.Comb:
		j.comb(f, text, spoil)
	case sheetmodel.Cell, sheetmodel.Text:
		j.w.Pen.Word(j.ink, text, f.Rect, j.rng)
	case sheetmodel.Tick:
		j.mark(f.Rect, spoil)
	case sheetmodel.Choice:
		if !j.choose(f, text, spoil) {
			return
		}
	case sheetmodel.Drawing:
		j.w.Pen.Mark(j.ink, hand.Signature, f.Rect.Grow(-1), j.rng)
	case sheetmodel.Printed:
		return
	}
	j.truth[f.Name] = Wrote{Text: text, Spoil: spoil, Glyphs: j.used}
}

// choose marks the option of a choice with the given value; it reports whether there is one.
func (j *job) choose(f sheetmodel.Field, value string, spoil Spoil) bool {
	for _, o := range f.Options {
		if o.Value != value {
			continue
		}
		if f.Rings {
			j.w.Pen.Mark(j.ink, hand.Ring, o.Rect, j.rng)
		} else {
			j.mark(o.Rect, spoil)
		}
		return true
	}
	return false
}

// mark ticks a box, mostly with a tick or a cross, as the person pleases.
func (j *job) mark(box sheetmodel.Rect, spoil Spoil) {
	kinds := []hand.MarkKind{hand.Tick, hand.Tick, hand.Cross, hand.Cross, hand.Slash}
	j.w.Pen.Mark(j.ink, kinds[j.rng.IntN(len(kinds))], box.Grow(-0.6), j.rng)
	if spoil == CrossedMark {
		j.w.Pen.Mark(j.ink, hand.StrikeZigzag, box, j.rng)
	}
}

// comb writes text one character a box: from the left, to the right, or in the middle.
func (j *job) comb(f sheetmodel.Field, text string, spoil Spoil) {
	if spoil == Dash {
		j.w.Pen.Mark(j.ink, hand.Dash, j.w.box(f, 0), j.rng)
		return
	}
	chars := []rune(text)
	room := max(f.Boxes-len(chars), 0)
	start := 0
	switch j.rng.IntN(3) {
	case 1:
		start = room
	case 2:
		start = room / 2
	}
	spoilt := j.rng.IntN(max(len(chars), 1))
	var all sheetmodel.Rect
	for i, c := range chars {
		box := j.w.box(f, min(start+i, f.Boxes-1))
		if spoil == OutsideBox {
			box.X += box.W * 0.45
			box.Y += box.H * 0.3
		}
		ink := j.character(c, box, spoil, i == spoilt)
		if i == 0 {
			all = ink
		} else {
			all = all.Union(ink)
		}
	}
	switch spoil {
	case Struck:
		kinds := []hand.MarkKind{hand.StrikeOnce, hand.StrikeTwice, hand.StrikeZigzag}
		j.w.Pen.Mark(j.ink, kinds[j.rng.IntN(len(kinds))], all.Grow(1), j.rng)
	case Question:
		last := j.w.box(f, min(start+len(chars), f.Boxes))
		j.w.Pen.Mark(j.ink, hand.Question, last.Grow(-1.5), j.rng)
	default: // the others happen while a character is written
	}
}

func (j *job) character(c rune, box sheetmodel.Rect, spoil Spoil, spoilt bool) sheetmodel.Rect {
	if c < '0' || c > '9' {
		return j.w.Pen.Letter(j.ink, c, box, j.rng)
	}
	d := int(c - '0')
	g, index := j.w.Digits.Digit(d, j.rng)
	j.used = append(j.used, index)
	other := func() hand.Strokes {
		s, _ := j.w.Digits.Digit((d+1+j.rng.IntN(9))%10, j.rng)
		return s
	}
	switch {
	case spoilt && spoil == Overwritten:
		return j.w.Pen.Overwrite(j.ink, other(), g, box, j.rng)
	case spoilt && spoil == RubbedOut:
		j.w.Pen.RubbedOut(j.ink, other(), box, j.rng)
	}
	return j.w.Pen.Digit(j.ink, g, box, j.rng)
}
