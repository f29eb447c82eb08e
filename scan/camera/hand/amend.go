package hand

import (
	"math"
	"math/rand/v2"

	"gatefold/sheetmodel"
)

// Letter writes the character r into box. It returns the rectangle of the ink.
func (w *Writer) Letter(dst *Ink, r rune, box sheetmodel.Rect, rng *rand.Rand) sheetmodel.Rect {
	s, _ := Letter(r, rng)
	return w.Digit(dst, s, box, rng)
}

// Word writes text from the left of cell, as large as this writer writes or as the cell allows. A
// character without strokes of its own becomes a ring; a space is a space.
func (w *Writer) Word(dst *Ink, text string, cell sheetmodel.Rect, rng *rand.Rand) sheetmodel.Rect {
	h := math.Min(0.8*w.HeightMM, 0.62*float64(cell.H))
	type placed struct {
		s Strokes
		x float64
	}
	var all []placed
	x := 0.0
	for _, r := range text {
		if r == ' ' {
			x += 0.45
			continue
		}
		s, _ := Letter(r, rng)
		all = append(all, placed{s, x})
		x += s.Width + 0.14 + 0.06*rng.Float64()
	}
	if x == 0 {
		return sheetmodel.Rect{}
	}
	h = math.Min(h, 0.96*float64(cell.W)/x)
	left := float64(cell.X) + 0.25*rng.Float64()*(float64(cell.W)-x*h)
	line := float64(cell.Y) + float64(cell.H)*0.76 // the line of writing
	rise := 0.02 * rng.NormFloat64()
	var ink sheetmodel.Rect
	for i, p := range all {
		_, y0, _, y1 := p.s.bounds()
		c := sheetmodel.SheetPoint{
			X: sheetmodel.MM(left + (p.x+p.s.Width/2)*h),
			Y: sheetmodel.MM(line + rise*p.x*h + ((y0+y1)/2-1)*h + 0.02*h*rng.NormFloat64()),
		}
		r := w.DigitAt(dst, p.s, c, h, rng)
		if i == 0 {
			ink = r
		} else {
			ink = ink.Union(r)
		}
	}
	return ink
}

// Overwrite writes wrong and then right over it, pressing harder, as a correction without a rubber.
func (w *Writer) Overwrite(dst *Ink, wrong, right Strokes, box sheetmodel.Rect, rng *rand.Rand) sheetmodel.Rect {
	first := w.Digit(dst, wrong, box, rng)
	firm := *w
	firm.Darker = math.Min(0.9, w.Darker*1.35)
	firm.WidthMM = math.Min(0.9, w.WidthMM*1.2)
	firm.Sloppy = 0
	h := float64(first.H)
	if right.Width > 0 {
		h = math.Min(h, 1.15*float64(box.W)/right.Width)
	}
	at := first.Center()
	at.X += sheetmodel.MM(0.2 * rng.NormFloat64())
	at.Y += sheetmodel.MM(0.2 * rng.NormFloat64())
	return first.Union(firm.DigitAt(dst, right, at, h, rng))
}

// RubbedOut leaves what a rubber leaves of g: a trace of 10 to 25 % of its darkness and a grey smear.
// A ballpoint can't be rubbed out: its writer strikes the digit out instead.
func (w *Writer) RubbedOut(dst *Ink, g Strokes, box sheetmodel.Rect, rng *rand.Rand) sheetmodel.Rect {
	if w.Pen == Ballpoint {
		return w.Digit(dst, g, box, rng).Union(w.Mark(dst, StrikeZigzag, box.Grow(-0.5), rng))
	}
	faint := *w
	faint.Darker = w.Darker * (0.10 + 0.15*rng.Float64())
	ink := faint.Digit(dst, g, box, rng)
	smear := *w
	smear.Darker = 0.02 + 0.05*w.Darker*rng.Float64()
	smear.WidthMM = 1.6
	smear.Uneven = 0.3
	return ink.Union(smear.Mark(dst, StrikeZigzag, ink.Grow(0.4), rng))
}

// StrikeRow draws a line, or two, through a whole row from about its left to its right.
func (w *Writer) StrikeRow(dst *Ink, row sheetmodel.Rect, rng *rand.Rand) sheetmodel.Rect {
	kind := StrikeOnce
	if rng.Float64() < 0.25 {
		kind = StrikeTwice
	}
	inset := sheetmodel.MM(0.02+0.06*rng.Float64()) * row.W
	r := sheetmodel.Rect{X: row.X + inset, Y: row.Y, W: row.W - 2*inset, H: row.H}
	return w.Mark(dst, kind, r, rng)
}
