package trouble

import (
	"math"

	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

func (w *writing) between(lo, hi float64) sheetmodel.MM {
	return sheetmodel.MM(lo + (hi-lo)*w.rng.Float64())
}

// digit is a digit of this hand.
func (w *writing) digit() hand.Strokes {
	g, _ := w.digits.Digit(w.rng.IntN(10), w.rng)
	return g
}

// again spoils a second box that is written plainly, in the ways that fill spoils first ones.
func (w *writing) again(f sheetmodel.Field) Kind {
	switch w.rng.IntN(3) {
	case 0:
		kinds := []hand.MarkKind{hand.StrikeOnce, hand.StrikeTwice, hand.StrikeZigzag}
		w.pen.Mark(w.ink, kinds[w.rng.IntN(len(kinds))], f.Rect.Grow(-w.between(0.5, 2)), w.rng)
		return Struck
	case 1:
		w.pen.Mark(w.ink, hand.Question, sheetmodel.Rect{X: f.Rect.X + f.Rect.W - 4.5, Y: f.Rect.Y + 1, W: 7, H: f.Rect.H - 2}, w.rng)
		return Question
	default:
		firm := *w.pen
		firm.Darker, firm.WidthMM = math.Min(0.9, 1.3*firm.Darker), math.Min(0.9, 1.2*firm.WidthMM)
		// All boxes: one of them surely had a digit.
		for i := range f.Boxes {
			firm.Digit(w.ink, w.digit(), f.Rect.Box(i, f.Boxes), w.rng)
		}
		return Overwritten
	}
}

// other adds ink of a kind that fill doesn't have to a comb that is written plainly.
func (w *writing) other(f sheetmodel.Field) Way {
	r := f.Rect
	boxW := r.W / sheetmodel.MM(f.Boxes)
	switch w.rng.IntN(12) {
	case 0: // a ring or a box around it
		w.pen.Mark(w.ink, hand.Ring, r.Grow(-w.between(0, 1.5)), w.rng)
	case 1, 2: // a correction above it, with or without a line through what it corrects
		h := float64(w.between(1.8, 3))
		x, y := r.X+w.between(0.1, 0.8)*r.W, r.Y-w.between(-1, 1)
		for range 1 + w.rng.IntN(2) {
			w.pen.DigitAt(w.ink, w.digit(), sheetmodel.SheetPoint{X: x, Y: y}, h, w.rng)
			x += sheetmodel.MM(0.8 * h)
		}
		if w.rng.IntN(2) == 0 {
			w.pen.Mark(w.ink, hand.StrikeOnce, r.Box(w.rng.IntN(f.Boxes), f.Boxes).Grow(-1.5), w.rng)
		}
		return Above
	case 3: // a line from elsewhere: a stroke through the row
		line := sheetmodel.Rect{X: r.X - w.between(0, 8), Y: r.Y - w.between(-3, 6), W: r.W + w.between(-6, 12), H: r.H + w.between(-4, 8)}
		w.pen.Mark(w.ink, []hand.MarkKind{hand.Stray, hand.Slash, hand.StrikeOnce}[w.rng.IntN(3)], line, w.rng)
		return Elsewhere
	case 9: // an arrow that ends in it
		w.arrow(r)
		return Elsewhere
	case 10: // a bracket that binds rows together
		x := r.X + w.between(-2.5, 1)
		if w.rng.IntN(2) == 0 {
			x = r.X + r.W - w.between(-2.5, 1)
		}
		from, to := r.Y-w.between(-3, 9), r.Y+r.H+w.between(-3, 9)
		w.pen.Line(w.ink, sheetmodel.SheetPoint{X: x, Y: from}, sheetmodel.SheetPoint{X: x + w.between(-0.6, 0.6), Y: to}, w.rng)
		for _, y := range []sheetmodel.MM{from, to} {
			w.pen.Line(w.ink, sheetmodel.SheetPoint{X: x, Y: y}, sheetmodel.SheetPoint{X: x + w.between(-2.5, 2.5), Y: y + w.between(-0.4, 0.4)}, w.rng)
		}
		return Elsewhere
	case 11: // a word that runs into it from beside, above or below
		at := sheetmodel.Rect{X: r.X + w.between(-0.5, 0.9)*r.W, Y: r.Y + w.between(-0.45, 0.55)*r.H, W: w.between(6, 14), H: w.between(4, 7)}
		for i := range 2 + w.rng.IntN(3) {
			b := at.Box(i, 4)
			w.pen.Letter(w.ink, rune('a'+w.rng.IntN(26)), b, w.rng)
		}
	case 4: // letters beside or between the digits
		for range 1 + w.rng.IntN(2) {
			w.pen.Letter(w.ink, rune('A'+w.rng.IntN(26)), r.Box(w.rng.IntN(f.Boxes), f.Boxes), w.rng)
		}
	case 5: // ditto marks, a tick, a cross
		b := r.Box(w.rng.IntN(f.Boxes), f.Boxes)
		switch w.rng.IntN(3) {
		case 0:
			for i := range 2 {
				s := sheetmodel.Rect{X: b.X + b.W*sheetmodel.MM(0.25+0.3*float64(i)), Y: b.Y + 0.2*b.H, W: 0.18 * b.W, H: 0.35 * b.H}
				w.pen.Mark(w.ink, hand.Slash, s, w.rng)
			}
		case 1:
			w.pen.Mark(w.ink, hand.Tick, b, w.rng)
		default:
			w.pen.Mark(w.ink, hand.Cross, b, w.rng)
		}
	case 6: // coloured in
		w.pen.Mark(w.ink, []hand.MarkKind{hand.Fill, hand.StrikeZigzag}[w.rng.IntN(2)], r.Box(w.rng.IntN(f.Boxes), f.Boxes).Grow(-0.8), w.rng)
	case 7: // a digit between two boxes, or one that belongs to nobody
		at := sheetmodel.SheetPoint{X: r.X + boxW*sheetmodel.MM(1+w.rng.IntN(max(1, f.Boxes-1))) + w.between(-0.8, 0.8), Y: r.Y + r.H/2 + w.between(-1.5, 1.5)}
		w.pen.DigitAt(w.ink, w.digit(), at, float64(w.between(3.5, 6)), w.rng)
	default: // a question mark anywhere near
		at := sheetmodel.Rect{X: r.X + w.between(-0.25, 1.05)*r.W, Y: r.Y + w.between(-3, 2), W: w.between(4, 8), H: w.between(5, 10)}
		w.pen.Mark(w.ink, hand.Question, at, w.rng)
	}
	return AnyOther
}

// arrow draws a straight arrow from anywhere around into a comb.
func (w *writing) arrow(r sheetmodel.Rect) {
	tip := sheetmodel.SheetPoint{X: r.X + w.between(0.05, 0.95)*r.W, Y: r.Y + w.between(0.1, 0.9)*r.H}
	turn, long := 2*math.Pi*w.rng.Float64(), float64(w.between(8, 22))
	w.line(tip, turn, long)
	for _, side := range []float64{-1, 1} {
		w.line(tip, turn+side*float64(w.between(0.35, 0.7)), float64(w.between(1.5, 3)))
	}
}

// line draws a straight line that leaves from in the direction turn, radians from the right, downwards.
func (w *writing) line(from sheetmodel.SheetPoint, turn, long float64) {
	w.pen.Line(w.ink, from, sheetmodel.SheetPoint{X: from.X + sheetmodel.MM(long*math.Cos(turn)), Y: from.Y + sheetmodel.MM(long*math.Sin(turn))}, w.rng)
}
