package crop

import "gatefold/sheetmodel"

// Sizes of what the nets see, px.
const (
	CellW     = 40
	CellH     = 48
	GlyphSide = 28
)

// Resolutions of the views. A digit of 3.5 to 6 mm is 14 to 24 px high in a Cell, which is about what
// MNIST's digits are; 6 px/mm keep a stroke of 0.5 mm three pixels wide while lines are taken off.
const (
	cellPxPerMM = 4.0
	inkPxPerMM  = 6.0
)

// Size of the window that ink is looked for in, px at inkPxPerMM: 12 x 14 mm.
const inkW, inkH = 72, 84

// Crop is one box of a page as the nets see it.
type Crop struct {
	// Cell is the darkness around the box's middle, 10 x 12 mm, row by row; see Tone.
	Cell [CellW * CellH]byte
	// Glyph is the ink alone as in MNIST: 255 is ink, the longer side 20 px, its centre of mass in the
	// middle; faint ink is grey at most. All 0 when no ink was found.
	Glyph [GlyphSide * GlyphSide]byte
	Ink   Ink
}

// Ink says how much was written in a box, printed lines left out.
type Ink struct {
	MassMM2 float64 // sum of darkness over area: 1 mm² of black is 1
	AreaMM2 float64 // area darker than about half a stroke
	Darker  float64 // darkness of the strokes' middle, share of the paper's grey
	Noise   float64 // standard deviation of the paper's grey, share
	W, H    float64 // extent in mm
	OutMM2  float64 // area of the chosen ink that lies outside the box
}

// Take cuts box out of p. Its edges are taken to be printed lines if any are found there.
//
// box lies on the page as straightened; it may be off by about half a millimetre. About 0.25 ms.
func Take(p Page, box sheetmodel.Rect) Crop {
	var c Crop
	c.Cell = cell(p, box)
	c.Glyph, c.Ink = glyph(p, box)
	return c
}

// cell is the view with everything left in.
func cell(p Page, box sheetmodel.Rect) [CellW * CellH]byte {
	r := p.window(box, CellW, CellH, cellPxPerMM)
	paper, _ := paperLevel(r)
	d := paper.darkness(r)
	var out [CellW * CellH]byte
	for i, v := range d.v {
		out[i] = Tone(v)
	}
	return out
}

// Tone maps darkness to a byte: 32 is paper, steep for pale pencil and flat for black.
func Tone(darkness float32) byte {
	// d/(d+0.25): a pencil 12 % darker than paper gets a third of the scale, one of 60 % two thirds.
	const (
		paper = 32
		knee  = 0.25
		scale = 278 // black, 1, becomes 254
	)
	if darkness < 0 {
		return byte(max(0, paper+darkness*scale/knee/2))
	}
	return byte(min(255, paper+darkness/(darkness+knee)*scale))
}
