package print

import (
	"math"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"gatefold/sheetmodel"
)

// emUnits is the em in which outlines are loaded: the fonts' own, so that nothing is rounded.
const emUnits = 2048

// glyph is the outline of a letter in em, y down, the left end of its baseline at the origin.
type glyph struct {
	segments []sfnt.Segment // in 1/64 of a font unit
	advance  float64
}

var glyphs = struct {
	sync.Mutex
	fonts map[sheetmodel.Face]*sfnt.Font
	known map[sheetmodel.Face]map[rune]glyph
	buf   sfnt.Buffer
}{fonts: map[sheetmodel.Face]*sfnt.Font{}, known: map[sheetmodel.Face]map[rune]glyph{}}

// glyphOf returns the outline of r; a letter the font lacks gives the font's empty box.
func glyphOf(face sheetmodel.Face, r rune) glyph {
	glyphs.Lock()
	defer glyphs.Unlock()
	if g, ok := glyphs.known[face][r]; ok {
		return g
	}
	f := glyphs.fonts[face]
	if f == nil {
		var err error
		if f, err = sfnt.Parse(face.TTF()); err != nil {
			panic("embedded font: " + err.Error()) // compiled in
		}
		glyphs.fonts[face] = f
		glyphs.known[face] = map[rune]glyph{}
	}
	var g glyph
	if index, err := f.GlyphIndex(&glyphs.buf, r); err == nil {
		if segments, err := f.LoadGlyph(&glyphs.buf, index, fixed.I(emUnits), nil); err == nil {
			g.segments = append(g.segments, segments...)
		}
		if a, err := f.GlyphAdvance(&glyphs.buf, index, fixed.I(emUnits), font.HintingNone); err == nil {
			g.advance = float64(a) / 64 / emUnits
		}
	}
	glyphs.known[face][r] = g
	return g
}

// eachGlyph calls do for each letter of a text shape with the matrix from 1/64 font units to mm.
func eachGlyph(s shape, do func(g glyph, m [6]float64)) {
	em := s.size / sheetmodel.CapHeight
	sin, cos := math.Sincos(s.turn * math.Pi / 180)
	unit := em / 64 / emUnits
	at := 0.0
	for _, r := range s.text {
		g := glyphOf(s.face, r)
		do(g, [6]float64{
			cos * unit, -sin * unit, s.at.x + at*cos*em,
			sin * unit, cos * unit, s.at.y + at*sin*em,
		})
		at += g.advance
	}
}
