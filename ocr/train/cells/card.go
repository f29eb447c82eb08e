package cells

import (
	"fmt"
	"image"
	"image/draw"
	"math"
	"math/rand/v2"

	"gatefold/ocr/crop"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// Cards are the blank sides of real cards, printed as pixels, to write combs on.
type Cards struct {
	sides []cardSide
}

type cardSide struct {
	side  *sheetmodel.Side
	paper *image.Gray
	combs []sheetmodel.Field
}

// cardPxPerMM shows a pencil's grain; 12 would do, but the camera's own tests use this.
const cardPxPerMM = fill.InkPxPerMM

// NewCards prints both sides of the built-in layout, in the variants that races may ask for.
func NewCards() (*Cards, error) {
	c := &Cards{}
	for _, opt := range []sheetmodel.BindOptions{
		{Groups: []string{"U12 f", "U12 m"}, Courses: []string{"red", "blue"}},
		{Groups: []string{"U14 f", "U14 m"}, Courses: []string{"red"}, SecondWriting: true},
	} {
		l, err := sheetmodel.GateCard().Bind(opt)
		if err != nil {
			return nil, fmt.Errorf("cards to teach on: %w", err)
		}
		for i := range l.Sides {
			s := cardSide{side: &l.Sides[i], paper: print.RasterBlank(&l.Sides[i], cardPxPerMM)}
			for _, f := range s.side.Fields {
				if f.Kind == sheetmodel.Comb {
					s.combs = append(s.combs, f)
				}
			}
			if len(s.combs) > 0 {
				c.sides = append(c.sides, s)
			}
		}
	}
	return c, nil
}

// rowView is how much around a comb is photographed, mm.
const rowView = 3.5

// Comb writes a number into one comb of a card, photographs it at the level and returns each of its boxes,
// the empty ones as Empty. index picks the digits, called once a digit; wild changes their shapes.
func (s *Source) Comb(cards *Cards, level camera.Level, index func() int, wild bool, rng *rand.Rand) ([]Sample, error) {
	cs := cards.sides[rng.IntN(len(cards.sides))]
	field := cs.combs[rng.IntN(len(cs.combs))]
	shot := level.Draw(fill.SceneOf(cs.side, image.Point{}), rng)
	view := shot.View()
	// Whole page pixels, so that the part's frame is the page's.
	const pagePx = 8.0
	part := snapped(field.Rect.Grow(rowView), pagePx)
	around := part.Grow(sheetmodel.MM(1.5 + 3*shot.BlurSigmaMM))
	ink := hand.NewInk(around, cardPxPerMM)
	writer := hand.DrawWriter(level.Pens(), rng)
	labels := s.writeComb(ink, writer, field, index, wild, rng)
	for _, f := range cs.combs {
		if f.Name != field.Name && f.Rect.Overlaps(around) && rng.Float64() < 0.7 {
			s.writeComb(ink, writer, f, func() int { return -1 }, wild, rng)
		}
	}
	paper := image.NewGray(image.Rect(ink.MinX, ink.MinY, ink.MinX+ink.W, ink.MinY+ink.H))
	draw.Draw(paper, paper.Rect, image.White, image.Point{}, draw.Src)
	draw.Draw(paper, paper.Rect.Intersect(cs.paper.Rect), cs.paper, paper.Rect.Intersect(cs.paper.Rect).Min, draw.Src)
	ink.Over(paper)
	patch, err := view.TakePatch(camera.Sheet{Image: paper, PxPerMM: cardPxPerMM}, part)
	if err != nil {
		return nil, err
	}
	page := crop.FromGray(patch.Straighten(part, pagePx, off.Draw(rng)), pagePx)
	page.OriginX, page.OriginY = int(math.Round(float64(part.X)*pagePx)), int(math.Round(float64(part.Y)*pagePx))
	out := make([]Sample, len(labels))
	for i, label := range labels {
		kind := Card
		if label == Empty {
			kind = Blank
		}
		out[i] = Sample{Label: label, Kind: kind, Crop: crop.Take(page, field.Rect.Box(i, field.Boxes))}
	}
	return out, nil
}

// writeComb writes 1 to all boxes' worth of digits, left, right or in the middle, and returns what each
// box holds. A negative index asks for any digit.
func (s *Source) writeComb(ink *hand.Ink, w *hand.Writer, f sheetmodel.Field, index func() int, wild bool, rng *rand.Rand) []uint8 {
	labels := make([]uint8, f.Boxes)
	for i := range labels {
		labels[i] = Empty
	}
	n := 1 + rng.IntN(f.Boxes)
	first := []int{0, (f.Boxes - n) / 2, f.Boxes - n}[rng.IntN(3)]
	for i := first; i < first+n; i++ {
		d := s.any(rng)
		if k := index(); k >= 0 {
			d = s.byID[k]
		}
		g := d.strokes
		if wild {
			g = European(d.glyph.Label, g, 0.4, rng)
			if rng.Float64() < 0.85 {
				g = Bent(g, rng)
			}
		}
		w.Digit(ink, g, f.Rect.Box(i, f.Boxes), rng)
		labels[i] = d.glyph.Label
	}
	return labels
}

// snapped is r with its edges moved out to whole pixels.
func snapped(r sheetmodel.Rect, pxPerMM float64) sheetmodel.Rect {
	down := func(v sheetmodel.MM) sheetmodel.MM { return sheetmodel.MM(math.Floor(float64(v)*pxPerMM) / pxPerMM) }
	up := func(v sheetmodel.MM) sheetmodel.MM { return sheetmodel.MM(math.Ceil(float64(v)*pxPerMM) / pxPerMM) }
	x, y := down(r.X), down(r.Y)
	return sheetmodel.Rect{X: x, Y: y, W: up(r.X+r.W) - x, H: up(r.Y+r.H) - y}
}

// Astray is how far a straightened part may be off: a shift that changes slowly over the sheet, in mm.
type Astray struct {
	Usual, Seldom float64 // standard deviation; the second in one part of ten
	Slope         float64 // mm a mm
}

// off is what nets for boxes are drawn with: more than whole photos leave (scan/report.md).
var off = Astray{Usual: 0.18, Seldom: 0.35, Slope: 0.006}

// Draw draws one error of a straightening.
func (o Astray) Draw(rng *rand.Rand) func(sheetmodel.SheetPoint) sheetmodel.SheetPoint {
	sd := o.Usual
	if rng.Float64() < 0.1 {
		sd = o.Seldom
	}
	dx, dy := sd*rng.NormFloat64(), sd*rng.NormFloat64()
	a, b := o.Slope*rng.NormFloat64(), o.Slope*rng.NormFloat64()
	var x0, y0 sheetmodel.MM
	seen := false
	return func(p sheetmodel.SheetPoint) sheetmodel.SheetPoint {
		if !seen {
			x0, y0, seen = p.X, p.Y, true
		}
		u, v := float64(p.X-x0), float64(p.Y-y0)
		return sheetmodel.SheetPoint{X: p.X + sheetmodel.MM(dx+a*u-b*v), Y: p.Y + sheetmodel.MM(dy+b*u+a*v)}
	}
}
