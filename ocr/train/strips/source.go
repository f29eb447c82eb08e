package strips

import (
	"math/rand/v2"
	"strings"
	"sync"

	"gatefold/scan/camera/hand"
)

// Share names a part of the letters, which have no writer ids: every tenth of the file, by index.
type Share struct{ From, To int } // tenths, From included, To not

// The shares: as the parts of the split, but not by writer.
var (
	LearnLetters       = Share{0, 7}
	SelectLetters      = Share{7, 8}
	CalibrationLetters = Share{8, 9}
	ThresholdLetters   = Share{9, 10}
)

// Source holds the handwriting that fields are written with. Tracing happens when a glyph is first used.
type Source struct {
	writers []int
	digits  map[int]*[10][]*traced // by writer
	any     [10][]*traced
	letters map[byte][]*traced
}

// traced is a glyph and, once used, its strokes.
type traced struct {
	glyph   *hand.Glyph
	once    sync.Once
	strokes hand.Strokes
}

func (t *traced) get() hand.Strokes {
	t.once.Do(func() { t.strokes = hand.Trace(t.glyph) })
	return t.strokes
}

// NewSource groups the digits of glyphs whose index is in indices by writer, as writerOf has it, and takes
// the letters of a share, which may be none: then letters are pen strokes of our own.
func NewSource(glyphs []hand.Glyph, indices []int, writerOf func(index int) int, letters []hand.Glyph) *Source {
	s := &Source{digits: map[int]*[10][]*traced{}, letters: map[byte][]*traced{}}
	for _, i := range indices {
		t := &traced{glyph: &glyphs[i]}
		w, label := writerOf(i), glyphs[i].Label
		if s.digits[w] == nil {
			s.digits[w] = &[10][]*traced{}
			s.writers = append(s.writers, w)
		}
		s.digits[w][label] = append(s.digits[w][label], t)
		s.any[label] = append(s.any[label], t)
	}
	for i := range letters {
		s.letters[letters[i].Label] = append(s.letters[letters[i].Label], &traced{glyph: &letters[i]})
	}
	return s
}

// Writers lists the writers, in the order of their first digit.
func (s *Source) Writers() []int { return s.writers }

// digit draws a digit, '0' to '9', of a writer, of anybody if this one never wrote it.
func (s *Source) digit(writer int, d byte, rng *rand.Rand) *traced {
	list := s.any[d-'0']
	if w := s.digits[writer]; w != nil && len(w[d-'0']) > 0 {
		list = w[d-'0']
	}
	return list[rng.IntN(len(list))]
}

// letter draws a letter by anybody; four in five from the file, where it has the letter.
func (s *Source) letter(c byte, rng *rand.Rand) (g hand.Strokes, fromFile bool) {
	if list := s.letters[c]; len(list) > 0 && rng.Float64() < 0.8 {
		return list[rng.IntN(len(list))].get(), true
	}
	g, _ = hand.Letter(rune(c), rng)
	return g, false
}

// ReadLetters reads the letters of a share from an IDX file of images and the file of labels beside it.
func ReadLetters(images string, part Share) ([]hand.Glyph, error) {
	all, err := hand.ReadImages(images, strings.Replace(images, "images-idx3", "labels-idx1", 1))
	if err != nil {
		return nil, err
	}
	var out []hand.Glyph
	for i := range all {
		if i%10 >= part.From && i%10 < part.To {
			out = append(out, all[i])
		}
	}
	return out, nil
}
