package hand

import (
	"math"
	"math/rand/v2"

	"gatefold/sheetmodel"
)

// Pen is what a writer holds.
type Pen string

// The pens.
const (
	Pencil    Pen = "pencil"
	Ballpoint Pen = "ballpoint"
)

// Pens says how dark pencils and ballpoints may be, as shares of the paper's grey, and how often people
// use which.
type Pens struct {
	PencilDarker    [2]float64
	BallpointDarker [2]float64
	BallpointShare  float64
}

// Writer is one person with one pen at one race.
type Writer struct {
	Pen      Pen     `json:"pen"`
	WidthMM  float64 `json:"width_mm"`  // 0.35 to 0.8
	Darker   float64 `json:"darker"`    // mean over the middle of a stroke, share of the paper's grey value
	Uneven   float64 `json:"uneven"`    // pressure along a stroke, share
	Skips    float64 `json:"skips"`     // share of strokes with a gap
	HeightMM float64 `json:"height_mm"` // of a digit, 3.5 to 6
	Slant    float64 `json:"slant"`     // added shear, x per y
	OffXMM   float64 `json:"off_x_mm"`  // habit: where digits sit in a box
	OffYMM   float64 `json:"off_y_mm"`
	JitterMM float64 `json:"jitter_mm"` // standard deviation about the habit
	Sloppy   float64 `json:"sloppy"`    // share of digits that go over the edge of their box
	PaperX   float64 `json:"paper_x"`   // which part of the paper's relief lies under the pen, mm
	PaperY   float64 `json:"paper_y"`
}

// DrawWriter draws a person who holds one of pens.
func DrawWriter(pens Pens, rng *rand.Rand) *Writer {
	w := &Writer{
		Pen:      Pencil,
		WidthMM:  0.40 + 0.40*rng.Float64(),
		Darker:   between(pens.PencilDarker, rng),
		Uneven:   0.05 + 0.17*rng.Float64(),
		Skips:    0.03 * rng.Float64(),
		HeightMM: 3.5 + 2.5*rng.Float64(),
		Slant:    clamp(0.08*rng.NormFloat64(), 0.22),
		OffXMM:   clamp(0.4*rng.NormFloat64(), 1),
		OffYMM:   clamp(0.4*rng.NormFloat64(), 1),
		JitterMM: 0.15 + 0.45*rng.Float64(),
		Sloppy:   0.10 * rng.Float64() * rng.Float64(),
		PaperX:   12.8 * rng.Float64(),
		PaperY:   12.8 * rng.Float64(),
	}
	if rng.Float64() < pens.BallpointShare {
		w.Pen = Ballpoint
		w.WidthMM = 0.35 + 0.20*rng.Float64()
		w.Darker = between(pens.BallpointDarker, rng)
		w.Uneven *= 0.5
		w.Skips = 0.12 * rng.Float64()
	}
	return w
}

func (w *Writer) paper() paperAt { return paperAt{tile: toothTile(), dx: w.PaperX, dy: w.PaperY} }

// Digit writes g into box as this writer would: their size and slant, about where they use to write,
// sometimes over the edge. It returns the rectangle of the ink.
//
// The digit is made smaller when it would be higher or wider than 1.15 boxes.
func (w *Writer) Digit(dst *Ink, g Strokes, box sheetmodel.Rect, rng *rand.Rand) sheetmodel.Rect {
	c := box.Center()
	x := float64(c.X) + w.OffXMM + w.JitterMM*rng.NormFloat64()
	y := float64(c.Y) + w.OffYMM + w.JitterMM*rng.NormFloat64()
	h := w.height(g, box, rng)
	// Kept inside the box with a little overhang, unless this one is sloppy.
	slackX := math.Max(0, (float64(box.W)-g.Width*h)/2)
	slackY := math.Max(0, (float64(box.H)-h)/2)
	if rng.Float64() < w.Sloppy {
		far := slackX + (0.1+0.25*rng.Float64())*g.Width*h
		x = float64(c.X) + math.Copysign(far, rng.Float64()-0.5)
		y = float64(c.Y) + slackY*1.3*(2*rng.Float64()-1)
	} else {
		x = float64(c.X) + clamp(x-float64(c.X), slackX)
		y = float64(c.Y) + clamp(y-float64(c.Y), slackY)
	}
	at := sheetmodel.SheetPoint{X: sheetmodel.MM(x), Y: sheetmodel.MM(y)}
	return w.DigitAt(dst, g, at, h, rng)
}

// height is a digit's height in mm in a box.
func (w *Writer) height(g Strokes, box sheetmodel.Rect, rng *rand.Rand) float64 {
	h := w.HeightMM * (1 + clamp(0.06*rng.NormFloat64(), 0.15))
	h = math.Min(h, 1.15*float64(box.H))
	if g.Width > 0 {
		h = math.Min(h, 1.15*float64(box.W)/g.Width)
	}
	return h
}

// DigitAt writes g with its middle at c and heightMM high, and returns the rectangle of the ink.
func (w *Writer) DigitAt(dst *Ink, g Strokes, c sheetmodel.SheetPoint, heightMM float64, rng *rand.Rand) sheetmodel.Rect {
	return w.draw(dst, w.placed(g, c, heightMM, rng), w.Darker*(1+clamp(0.04*rng.NormFloat64(), 0.1)), rng)
}

// Number writes digits side by side, without boxes, into a cell. align is -1 for the left of the
// cell, 0 for its middle and 1 for its right. It returns the rectangle of each digit's ink.
func (w *Writer) Number(dst *Ink, digits []Strokes, cell sheetmodel.Rect, align int, rng *rand.Rand) []sheetmodel.Rect {
	h := math.Min(w.HeightMM, 0.95*float64(cell.H))
	gap := (0.12 + 0.15*rng.Float64()) * h
	wide := gap * float64(len(digits)-1)
	for _, g := range digits {
		wide += g.Width * h
	}
	if most := 0.97 * float64(cell.W); wide > most {
		h, gap, wide = h*most/wide, gap*most/wide, most
	}
	slack := float64(cell.W) - wide
	x := float64(cell.X) + slack/2*float64(1+align) - 0.15*slack*float64(align)*rng.Float64()
	y := float64(cell.Center().Y) + clamp(w.OffYMM+w.JitterMM*rng.NormFloat64(), (float64(cell.H)-h)/2)
	rise := 0.04 * rng.NormFloat64() // the line of writing climbs or falls
	out := make([]sheetmodel.Rect, 0, len(digits))
	for _, g := range digits {
		cx := x + g.Width*h/2
		at := sheetmodel.SheetPoint{
			X: sheetmodel.MM(cx),
			Y: sheetmodel.MM(y + rise*(cx-float64(cell.Center().X)) + 0.03*h*rng.NormFloat64()),
		}
		out = append(out, w.DigitAt(dst, g, at, h*(1+clamp(0.04*rng.NormFloat64(), 0.1)), rng))
		x += g.Width*h + gap*(0.7+0.6*rng.Float64())
	}
	return out
}

// placed brings g to the sheet: scaled, slanted, with the widths of this writer's pen and a slight tremor.
func (w *Writer) placed(g Strokes, c sheetmodel.SheetPoint, heightMM float64, rng *rand.Rand) []Line {
	shear := w.Slant + 0.02*rng.NormFloat64()
	turn := 0.02 * rng.NormFloat64()
	_, y0, _, y1 := g.bounds()
	midX, midY := g.Width/2, (y0+y1)/2
	tremble := tremor(rng)
	amp := 0.02 + 0.05*w.JitterMM
	out := g.warped(heightMM, func(x, y float64) (float64, float64) {
		x, y = (x-midX)*heightMM, (y-midY)*heightMM
		x -= shear * y
		x, y = x-turn*y, y+turn*x
		dx, dy := tremble(x, y)
		return float64(c.X) + x + amp*dx, float64(c.Y) + y + amp*dy
	})
	base := w.WidthMM
	if out.Pen > 0 {
		// A pen much wider than the strokes it follows would fill the loops.
		base = math.Min(base, 1.1*out.Pen)
	}
	for _, l := range out.Lines {
		for j := range l.Points {
			p := &l.Points[j]
			more := p.W - out.Pen // how much wider the writing is here than usual
			if blob := 0.8 * out.Pen; more < blob {
				more *= 0.35
			}
			p.W = math.Max(0.6*base, base+more)
		}
	}
	return out.Lines
}

// tremor returns a smooth random displacement over a few mm, each about 1 in size.
func tremor(rng *rand.Rand) func(x, y float64) (float64, float64) {
	var a [12]float64
	for i := range a {
		a[i] = rng.NormFloat64()
	}
	return func(x, y float64) (float64, float64) {
		return math.Sin(a[0]*x+a[1]*y+6*a[2]) + 0.5*math.Sin(2.5*a[3]*x+2.5*a[4]*y+6*a[5]),
			math.Sin(a[6]*x+a[7]*y+6*a[8]) + 0.5*math.Sin(2.5*a[9]*x+2.5*a[10]*y+6*a[11])
	}
}

func between(r [2]float64, rng *rand.Rand) float64 { return r[0] + (r[1]-r[0])*rng.Float64() }

func clamp(v, most float64) float64 { return math.Max(-most, math.Min(most, v)) }
