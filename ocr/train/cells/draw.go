package cells

import (
	"math"
	"math/rand/v2"

	"gatefold/ocr/crop"
	"gatefold/scan/camera/hand"
)

// Kind says how a sample was made.
type Kind uint8

// The kinds.
const (
	Plain   Kind = iota // a digit as written
	Pasted              // a digit's own pixels, not redrawn
	Edge                // a digit that its box's edge cuts
	Traced              // a digit over the trace of a rubbed-out one
	Blank               // nothing written
	Letter              // a letter that is no digit
	Sign                // dash, question mark, tick, cross, ring, ditto, scribble
	Struck              // a digit struck out
	Over                // a digit overwritten by another
	Two                 // two digits in one box
	Between             // a part of a digit that stands mostly in the next box
	Card                // a digit in a comb of a whole card
	Kinds               // how many there are
)

// Digit draws the digit with the given index into MNIST as a tame sample of level: neighbours, lines and
// dirt as on a card, no changed shapes. It panics if the source doesn't hold it.
func (s *Source) Digit(index int, level Level, rng *rand.Rand) Sample {
	d, ok := s.byID[index]
	if !ok {
		panic("cells: digit of another part of the split")
	}
	c := levels[level]
	sc := newScene(s, c, rng)
	sc.under(0.04)
	sc.neighbours(0.4, 0.3)
	sc.write(d.strokes, false)
	return drawn{sc, d.glyph.Label, Plain, c}.taken()
}

// Redrawn draws the digit alone in an otherwise clean box, drawn anew with a pen.
func (s *Source) Redrawn(index int, rng *rand.Rand) Sample {
	d, c := s.byID[index], levels[Clean]
	sc := newScene(s, c, rng)
	sc.write(d.strokes, false)
	return drawn{sc, d.glyph.Label, Plain, c}.taken()
}

// Original shows the digit's own pixels, 5 mm high, in an otherwise clean box: 4 px/mm, no camera.
func Original(g *hand.Glyph) Sample {
	const side = 20 // mm
	p := crop.Page{Pix: make([]byte, side*4*side*4), Stride: side * 4, W: side * 4, H: side * 4, PxPerMM: 4}
	for i := range p.Pix {
		p.Pix[i] = 255
	}
	for y := range 28 {
		for x := range 28 {
			p.Pix[(y+26)*p.Stride+x+26] = 255 - g.Pix[y*28+x]
		}
	}
	return Sample{Label: g.Label, Kind: Pasted, Crop: crop.Take(p, pageBox(side))}
}

// Mixed draws one box of the mix that nets learn from and photographs it shots times.
func (s *Source) Mixed(shots int, rng *rand.Rand) []Sample {
	level := Ordinary
	switch u := rng.Float64(); {
	case u < 0.20:
		level = Clean
	case u < 0.50:
		level = Hard
	case u < 0.62:
		level = Beyond
	}
	c := levels[level]
	var d drawn
	switch u := rng.Float64(); {
	case u < 0.08:
		d = s.blank(c, rng)
	case u < 0.17:
		d = s.other(c, rng)
	case u < 0.25:
		d = s.onWhite(rng)
	default:
		d = s.wild(c, rng)
	}
	out := make([]Sample, shots)
	d.ink()
	for i := range out {
		out[i] = d.shot()
	}
	return out
}

// wild draws a digit for learning: shapes changed, both sides of the Atlantic, all troubles more often.
func (s *Source) wild(c conditions, rng *rand.Rand) drawn {
	d := s.any(rng)
	label := d.glyph.Label
	sc := newScene(s, c, rng)
	sc.under(0.15)
	sc.neighbours(0.4, 0.3)
	kind := Plain
	switch u := rng.Float64(); {
	case u < 0.06:
		kind = Pasted
		sc.pasted(d.glyph, sc.between(3.5, 6), sc.between(0.3, 0.95))
	case u < 0.14:
		// At most a fifth of the digit's width is outside.
		kind = Edge
		g := Bent(European(label, d.strokes, 0.4, rng), rng)
		h := math.Min(sc.writer.HeightMM*sc.between(0.9, 1.2), 0.95*float64(sc.box.H))
		w := g.Width * h
		far := math.Max(0, float64(sc.box.W)/2-w/2) + sc.between(0, 0.2)*w
		if rng.IntN(2) == 0 {
			far = -far
		}
		y := sc.between(-1, 1) * math.Max(0, float64(sc.box.H)/2-h/2+0.15*h)
		sc.writer.DigitAt(sc.ink, g, sc.moved(far, y), h, rng)
	case u < 0.21:
		kind = Traced
		sc.rubbedOut()
		sc.write(European(label, d.strokes, 0.4, rng), true)
	default:
		sc.write(European(label, d.strokes, 0.4, rng), rng.Float64() < 0.85)
	}
	return drawn{sc, label, kind, c}
}

// onWhite shows a digit's own pixels on paper without print, evenly lit: what MNIST itself looks like.
func (s *Source) onWhite(rng *rand.Rand) drawn {
	d, c := s.any(rng), levels[Clean]
	c.lightFall, c.blurMM, c.noise, c.sharpen = span{}, span{0, 0.06}, span{0, 0.002}, span{}
	sc := newScene(s, c, rng)
	if rng.Float64() < 0.8 {
		sc.paper = newSheet()
	}
	sc.pasted(d.glyph, sc.between(4, 5.8), sc.between(0.75, 1))
	return drawn{sc, d.glyph.Label, Pasted, c}
}

// blank draws a box with nothing written in it.
func (s *Source) blank(c conditions, rng *rand.Rand) drawn {
	sc := newScene(s, c, rng)
	sc.under(0.4)
	sc.neighbours(0.45, 0.35)
	if sc.chance(0.06) {
		sc.rubbedOut()
	}
	if sc.chance(0.15) {
		// A neighbour's digit comes in a little.
		g := s.any(rng).strokes
		h := sc.writer.HeightMM
		far := float64(sc.box.W)/2 + (0.5-sc.between(0, 0.22))*g.Width*h
		if rng.IntN(2) == 0 {
			far = -far
		}
		sc.writer.DigitAt(sc.ink, g, sc.moved(far, sc.between(-1, 1)), h, rng)
	}
	return drawn{sc, Empty, Blank, c}
}

// under draws what lies below the writing, each with the given share.
func (s *scene) under(share float64) {
	if s.chance(share) {
		s.smudge(s.between(0.02, 0.10), s.between(1, 6))
	}
	if s.chance(share) {
		s.dirt()
	}
	if s.chance(share / 2) {
		s.showThrough()
	}
}

// drawn is a finished scene.
type drawn struct {
	*scene
	label uint8
	kind  Kind
	c     conditions
}

// ink puts the writing onto the paper, once.
func (d drawn) ink() { d.lay(d.scene.ink, 1) }

// shot photographs the scene and cuts its box out.
func (d drawn) shot() Sample {
	page := photograph(d.paper, d.box, d.c, d.rng)
	return Sample{Label: d.label, Kind: d.kind, Crop: crop.Take(page, d.box)}
}

func (d drawn) taken() Sample {
	d.ink()
	return d.shot()
}
