package print

import (
	"fmt"
	"strings"
	"unicode"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/idcode"
)

// CardPrint is what differs from card to card. The side in Identity is replaced by the side drawn.
type CardPrint struct {
	Race       string // name of the race as printed
	Date       string
	Discipline string
	Course     string // name; empty on spares
	Identity   sheetmodel.Identity
}

// run2Note stands on the cards of a second run: its gates exist only after the reset.
const run2Note = "Run 2: leave blank, both sides, until its gates are set."

// words returns the replacements for the placeholders of a layout, for one side.
func (c CardPrint) words(side sheetmodel.SideName, letters string) *strings.Replacer {
	run, course, note, twin := fmt.Sprint(c.Identity.Run), c.Course, "", ""
	switch c.Identity.Run {
	case 0:
		run = ""
		twin = fmt.Sprintf("spare · card %d · %s", c.Identity.Card, side)
	default:
		twin = fmt.Sprintf("%s · run %s · card %d · %s", course, run, c.Identity.Card, side)
	}
	if c.Identity.Run == 2 {
		note = run2Note
	}
	half := (len(letters) + 1) / 2
	return strings.NewReplacer(
		"{race}", c.Race, "{date}", c.Date, "{discipline}", c.Discipline, "{course}", course,
		"{run}", run, "{card}", fmt.Sprint(c.Identity.Card), "{run-note}", note, "{twin}", twin,
		"{letters-1}", letters[:half], "{letters-2}", letters[half:],
	)
}

// drawSide returns the shapes of one side. card is nil for the blank: what all cards share.
func drawSide(side *sheetmodel.Side, card *CardPrint) ([]shape, error) {
	c := &canvas{}
	for _, m := range side.Marks {
		c.mark(m)
	}
	var replace *strings.Replacer
	if card != nil {
		id := card.Identity
		id.Side = side.Name
		letters, err := idcode.Letters(id)
		if err != nil {
			return nil, err
		}
		modules, err := idcode.Encode(id)
		if err != nil {
			return nil, err
		}
		for _, r := range side.Identity {
			c.code(r, modules)
		}
		replace = card.words(side.Name, letters)
	}
	for _, f := range side.Fields {
		c.frame(f)
	}
	for _, p := range side.Print {
		if p.ForCard() {
			if card == nil {
				continue
			}
			p.Text = tidy(replace.Replace(p.Text))
		}
		c.item(p)
	}
	return c.shapes, nil
}

// tidy removes the separators that an empty word leaves behind.
func tidy(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	for strings.Contains(text, "· ·") {
		text = strings.ReplaceAll(text, "· ·", "·")
	}
	return strings.Trim(text, " ·")
}

func (c *canvas) item(p sheetmodel.PrintItem) {
	switch {
	case p.Text != "":
		p.Text = printable(p.Text)
		size := p.Size
		if w := sheetmodel.TextWidth(p.Text, p.FaceOf(), size); p.Room > 0 && w > p.Room {
			size *= p.Room / w
		}
		c.write(p.Text, point{float64(p.At.X), float64(p.At.Y)}, float64(size), p.FaceOf(), p.Align, p.Turn, p.Grey)
	case len(p.Line) > 1:
		c.line(points(p.Line), float64(p.Width), p.Grey)
	case len(p.Poly) > 2:
		c.fill(p.Grey, points(p.Poly))
	case p.Box != nil:
		if p.Fill > 0 {
			c.fill(1-p.Fill, box(*p.Box))
		}
		if p.Width > 0 {
			c.outline(*p.Box, float64(p.Width), p.Grey)
		}
	}
}

// printable replaces what a form can't show: controls by a space, letters outside the Basic
// Multilingual Plane, which neither the fonts nor the PDF's tables hold, by the replacement sign.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsControl(r):
			return ' '
		case r > 0xFFFF:
			return unicode.ReplacementChar
		default:
			return r
		}
	}, text)
}

func points(ps []sheetmodel.SheetPoint) []point {
	out := make([]point, len(ps))
	for i, p := range ps {
		out[i] = point{float64(p.X), float64(p.Y)}
	}
	return out
}

// Lines of the form. A camera at the hard end blurs a quarter-millimetre line to about a third of
// its contrast, which is what pencil has. So the borders a digit may touch from outside are dark
// enough to guide a hand in dull light, and the separators inside a comb, which digits often
// cross, are half as dark: after blur they stay below any pencil stroke.
const (
	lineMM        = 0.25
	borderGrey    = 0.25
	separatorGrey = 0.55
)

// frame draws the boxes of a field; words to ring and captions are print items.
func (c *canvas) frame(f sheetmodel.Field) {
	switch f.Kind {
	case sheetmodel.Comb:
		for i := 1; i < f.Boxes; i++ {
			b := f.Rect.Box(i, f.Boxes)
			c.line([]point{{float64(b.X), float64(b.Y)}, {float64(b.X), float64(b.Y + b.H)}}, lineMM, separatorGrey)
		}
		c.outline(f.Rect, lineMM, borderGrey)
	case sheetmodel.Cell, sheetmodel.Tick, sheetmodel.Drawing:
		c.outline(f.Rect, lineMM, borderGrey)
	case sheetmodel.Choice:
		if !f.Rings {
			for _, o := range f.Options {
				c.outline(o.Rect, lineMM, borderGrey)
			}
		}
	case sheetmodel.Text:
		y := float64(f.Rect.Y + f.Rect.H)
		c.line([]point{{float64(f.Rect.X), y}, {float64(f.Rect.X + f.Rect.W), y}}, lineMM, borderGrey)
	case sheetmodel.Printed:
	}
}

// mark draws a registration mark, all its black modules in one fill: no seams between them.
func (c *canvas) mark(m sheetmodel.Mark) {
	const n = sheetmodel.MarkModules
	pattern := sheetmodel.MarkPattern(m.ID)
	step := m.Rect.W / n
	outer, inner := box(m.Rect), box(m.Rect.Grow(-step))
	inner[1], inner[3] = inner[3], inner[1]
	polys := [][]point{outer, inner}
	for y := range n - 2 {
		for x := range n - 2 {
			if pattern&(1<<(15-(y*4+x))) != 0 {
				polys = append(polys, box(sheetmodel.Rect{
					X: m.Rect.X + step*sheetmodel.MM(x+1), Y: m.Rect.Y + step*sheetmodel.MM(y+1), W: step, H: step,
				}))
			}
		}
	}
	c.fill(0, polys...)
}

func (c *canvas) code(r sheetmodel.Rect, m idcode.Modules) {
	step := r.W / idcode.Size
	var polys [][]point
	for y := range idcode.Size {
		for x := 0; x < idcode.Size; {
			if !m[y][x] {
				x++
				continue
			}
			from := x
			for x < idcode.Size && m[y][x] {
				x++
			}
			polys = append(polys, box(sheetmodel.Rect{
				X: r.X + step*sheetmodel.MM(from), Y: r.Y + step*sheetmodel.MM(y), W: step * sheetmodel.MM(x-from), H: step,
			}))
		}
	}
	c.fill(0, polys...)
}
