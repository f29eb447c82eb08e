package strips

import (
	"math"
	"math/rand/v2"

	"gatefold/ocr/train/cells"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// Spoil is what goes wrong with a field.
type Spoil string

// The ways. What the ink then says is in Strip.Text.
const (
	Clean       Spoil = ""
	Empty       Spoil = "empty"
	Dash        Spoil = "dash"        // a dash instead
	Scribble    Spoil = "scribble"    // something that is no sign
	Word        Spoil = "word"        // small letters
	Struck      Spoil = "struck"      // struck out
	StruckThen  Spoil = "struck-then" // struck out, the right one beside it
	Question    Spoil = "question"    // a question mark behind it
	Overwritten Spoil = "overwritten" // one sign written over another
	Outside     Spoil = "outside"     // over the cell's rim
)

// drawSpoil draws what goes wrong: a quarter of fields are not plain.
func drawSpoil(rng *rand.Rand) Spoil {
	u := rng.Float64()
	for _, s := range []struct {
		spoil Spoil
		share float64
	}{{Empty, 0.05}, {Dash, 0.03}, {Scribble, 0.02}, {Word, 0.03}, {Struck, 0.03}, {StruckThen, 0.02}, {Question, 0.03}, {Overwritten, 0.03}, {Outside, 0.03}} {
		if u -= s.share; u < 0 {
			return s.spoil
		}
	}
	return Clean
}

// sign is one sign of a line before it is placed: in units of a capital's height.
type sign struct {
	g        hand.Strokes
	top, low float64 // of g in its own frame, before scale
	scale    float64
	after    float64 // gap behind it
	base     float64 // where low stands: 1 is the line of writing
}

// field writes into one field and returns what its ink says, and the text that was meant.
type field struct {
	src    *Source
	writer int
	pen    *hand.Writer
	ink    *hand.Ink
	rng    *rand.Rand
	tight  float64 // this hand's gap between signs, in heights
	wild   bool    // shapes are changed, for teaching
	avoid  map[*traced]bool
	used   map[*traced]bool
}

// digit draws a digit of the writer's, one that isn't to be avoided as far as there is another.
func (f *field) digit(d byte) hand.Strokes {
	const tries = 20
	t := f.src.digit(f.writer, d, f.rng)
	for i := 0; f.avoid[t] && i < tries; i++ {
		t = f.src.digit(f.writer, d, f.rng)
	}
	f.used[t] = true
	return t.get()
}

func (f *field) between(lo, hi float64) float64 { return lo + (hi-lo)*f.rng.Float64() }

// write writes text into rect, spoilt, and returns what the ink says.
func (f *field) write(text string, rect sheetmodel.Rect, spoil Spoil) string {
	says := text
	line := f.signs(text)
	switch spoil {
	case Clean:
	case Empty:
		return ""
	case Dash:
		line, says = f.signs("-"), "-"
	case Scribble:
		f.pen.Mark(f.ink, []hand.MarkKind{hand.Signature, hand.StrikeZigzag, hand.Fill}[f.rng.IntN(3)], rect.Grow(-sheetmodel.MM(f.between(1, 2.5))), f.rng)
		return string(Junk)
	case Word:
		const small = "cdefghkmnprtuvwxy"
		w := make([]byte, 2+f.rng.IntN(4))
		for i := range w {
			w[i] = small[f.rng.IntN(len(small))]
		}
		line, says = f.signs(string(w)), string(Junk)
	case Struck:
		says = string(Junk)
	case StruckThen:
		says = string(Junk) + text
		line = append(f.signs(text), line...)
		line[len(line)/2-1].after += f.between(0.2, 0.5)
	case Question:
		line, says = append(line, f.signs("?")...), text+"?"
	case Overwritten, Outside:
	}
	var over int
	if spoil == Overwritten {
		over = f.rng.IntN(len(text))
		says = text[:over] + string(Junk) + text[over+1:]
	}
	boxes := f.line(line, rect, spoil == Outside)
	switch spoil {
	case Struck, StruckThen:
		if spoil == StruckThen {
			boxes = boxes[:len(boxes)/2]
		}
		all := boxes[0]
		for _, b := range boxes[1:] {
			all = all.Union(b)
		}
		f.pen.Mark(f.ink, []hand.MarkKind{hand.StrikeOnce, hand.StrikeTwice, hand.StrikeZigzag, hand.StrikeCross}[f.rng.IntN(4)], all.Grow(0.5), f.rng)
	case Overwritten:
		b := boxes[over]
		c := text[over]
		for c == text[over] || c == '1' {
			c = byte('0' + f.rng.IntN(10))
		}
		f.pen.DigitAt(f.ink, f.digit(c), b.Center(), math.Max(float64(b.H), 2.5), f.rng)
	default:
	}
	return says
}

// signs prepares the signs of a line.
func (f *field) signs(text string) []sign {
	out := make([]sign, 0, len(text))
	for i := range len(text) {
		c := text[i]
		if c == ' ' {
			if len(out) > 0 {
				out[len(out)-1].after += f.between(0.3, 0.7)
			}
			continue
		}
		s := sign{scale: 1, base: 1, after: math.Max(-0.08, f.tight+0.05*f.rng.NormFloat64())}
		fromFile := false
		switch {
		case c >= '0' && c <= '9':
			s.g, fromFile = f.digit(c), true
			if f.wild {
				s.g = cells.Bent(cells.European(c-'0', s.g, 0.4, f.rng), f.rng)
			} else {
				s.g = cells.European(c-'0', s.g, 0.15, f.rng)
			}
		case c >= 'A' && c <= 'Z':
			s.g, fromFile = f.src.letter(c, f.rng)
			if c >= 'A' && i+1 < len(text) && text[i+1] <= '9' {
				s.after += f.between(0, 0.8) * f.rng.Float64() // a code and a gate: together or apart
			}
		case c >= 'a' && c <= 'z':
			s.g, fromFile = f.src.letter(c, f.rng)
			if fromFile && c != 'b' && c != 'd' && c != 'h' && c != 'k' {
				s.scale = f.between(0.5, 0.75)
			}
		default:
			s.g, _ = hand.Letter(rune(c), f.rng)
		}
		s.top, s.low = 0, 1
		if !fromFile {
			s.top, s.low = extent(s.g)
			s.base = s.low
		}
		s.scale *= 1 + 0.06*f.rng.NormFloat64()
		out = append(out, s)
	}
	return out
}

// line places signs on a line in rect, not larger than it allows, and returns the rectangle of each.
func (f *field) line(signs []sign, rect sheetmodel.Rect, outside bool) []sheetmodel.Rect {
	h := math.Min(f.pen.HeightMM*f.between(0.85, 1.1), 0.92*float64(rect.H))
	wide := 0.0
	for i, s := range signs {
		wide += s.g.Width * s.scale
		if i+1 < len(signs) {
			wide += s.after
		}
	}
	h = math.Min(h, 0.96*float64(rect.W)/math.Max(wide, 0.1))
	slack := float64(rect.W) - wide*h
	x := float64(rect.X) + slack*math.Max(0, math.Min(1, []float64{0.1, 0.5, 0.5, 0.85}[f.rng.IntN(4)]+0.1*f.rng.NormFloat64()))
	slackY := float64(rect.H) - h
	top := float64(rect.Y) + slackY*math.Max(0.02, math.Min(0.98, 0.5+0.2*f.rng.NormFloat64()))
	if outside {
		if f.rng.IntN(2) == 0 {
			top = float64(rect.Y) + slackY + f.between(0.05, 0.2)*h
		} else {
			x = float64(rect.X) + slack + f.between(0.02, 0.15)*h
		}
	}
	rise := 0.05 * f.rng.NormFloat64()
	out := make([]sheetmodel.Rect, 0, len(signs))
	x0 := x
	for _, s := range signs {
		k := s.scale * h
		low := top + s.base*h
		at := sheetmodel.SheetPoint{
			X: sheetmodel.MM(x + s.g.Width*k/2),
			Y: sheetmodel.MM(low - (s.low-s.top)/2*k + rise*(x-x0) + 0.03*h*f.rng.NormFloat64()),
		}
		out = append(out, f.pen.DigitAt(f.ink, s.g, at, k, f.rng))
		x += s.g.Width*k + s.after*h
	}
	return out
}

// comb writes text one digit a box: from the left, the right or in the middle.
func (f *field) comb(text string, rect sheetmodel.Rect, boxes int, spoil Spoil) string {
	if spoil != Clean && spoil != Struck && spoil != Overwritten && spoil != Question || len(text) > boxes {
		return f.write(text, rect, spoil)
	}
	room := boxes - len(text)
	start := []int{0, room / 2, room}[f.rng.IntN(3)]
	says, over := text, -1
	if spoil == Overwritten {
		over = f.rng.IntN(len(text))
	}
	var all sheetmodel.Rect
	for i := range len(text) {
		g := f.digit(text[i])
		if f.wild {
			g = cells.Bent(cells.European(text[i]-'0', g, 0.4, f.rng), f.rng)
		} else {
			g = cells.European(text[i]-'0', g, 0.15, f.rng)
		}
		box := rect.Box(start+i, boxes)
		at := f.pen.Digit(f.ink, g, box, f.rng)
		if i == over {
			c := text[i]
			for c == text[i] || c == '1' {
				c = byte('0' + f.rng.IntN(10))
			}
			f.pen.Digit(f.ink, f.digit(c), box, f.rng)
			says = text[:i] + string(Junk) + text[i+1:]
		}
		if i == 0 {
			all = at
		} else {
			all = all.Union(at)
		}
	}
	switch spoil {
	case Struck:
		f.pen.Mark(f.ink, []hand.MarkKind{hand.StrikeOnce, hand.StrikeTwice, hand.StrikeZigzag}[f.rng.IntN(3)], all.Grow(1), f.rng)
		return string(Junk)
	case Question:
		f.pen.Mark(f.ink, hand.Question, rect.Box(min(start+len(text), boxes-1), boxes).Grow(-1), f.rng)
		return text + "?"
	default:
	}
	return says
}

// extent returns the highest and the lowest Y of g.
func extent(g hand.Strokes) (top, low float64) {
	top, low = math.Inf(1), math.Inf(-1)
	for _, l := range g.Lines {
		for _, p := range l.Points {
			top, low = math.Min(top, p.Y), math.Max(low, p.Y)
		}
	}
	return top, low
}
