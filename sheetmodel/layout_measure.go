package sheetmodel

import (
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// Face names one of the three printed faces: the Go fonts, which cover Latin, Greek and Cyrillic.
type Face int

// The printed faces.
const (
	Regular Face = iota
	Bold
	Italic
)

// FaceOf returns the face in which an item's text is printed.
func (p PrintItem) FaceOf() Face {
	switch {
	case p.Bold:
		return Bold
	case p.Italic:
		return Italic
	default:
		return Regular
	}
}

// TTF returns the face's font file. The caller must not change it.
func (f Face) TTF() []byte {
	switch f {
	case Bold:
		return gobold.TTF
	case Italic:
		return goitalic.TTF
	default:
		return goregular.TTF
	}
}

// CapHeight is the height of a capital letter over the size of the em, the same in all Go fonts.
const CapHeight = 0.72265625

const measureEm = 2048 // font units per em of the Go fonts

var measured = struct {
	sync.Mutex
	fonts [3]*sfnt.Font
	buf   sfnt.Buffer
	width map[Face]map[rune]float64 // in em
}{width: map[Face]map[rune]float64{Regular: {}, Bold: {}, Italic: {}}}

// TextWidth returns how wide text prints, in mm, when its capitals are cap high; without kerning,
// as it is printed. Safe for concurrent use.
func TextWidth(text string, face Face, capHeight MM) MM {
	measured.Lock()
	defer measured.Unlock()
	em := 0.0
	for _, r := range text {
		w, ok := measured.width[face][r]
		if !ok {
			w = runeWidth(face, r)
			measured.width[face][r] = w
		}
		em += w
	}
	return MM(em) * capHeight / CapHeight
}

func runeWidth(face Face, r rune) float64 {
	if measured.fonts[face] == nil {
		f, err := sfnt.Parse(face.TTF())
		if err != nil {
			panic("embedded font: " + err.Error()) // compiled in: cannot happen
		}
		measured.fonts[face] = f
	}
	f := measured.fonts[face]
	g, err := f.GlyphIndex(&measured.buf, r)
	if err != nil {
		return 0
	}
	a, err := f.GlyphAdvance(&measured.buf, g, fixed.I(measureEm), font.HintingNone)
	if err != nil {
		return 0
	}
	return float64(a) / 64 / measureEm
}
