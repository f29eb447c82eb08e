package cells

import (
	"math/rand/v2"
	"runtime"
	"sync"

	"gatefold/ocr/crop"
	"gatefold/scan/camera/hand"
)

// Classes beside the digits 0 to 9.
const (
	Empty   = 10
	Other   = 11
	Classes = 12
)

// Sample is one box: what it holds and what the nets see of it.
type Sample struct {
	Label uint8
	Kind  Kind
	crop.Crop
}

// Source holds the handwriting that samples are drawn from.
type Source struct {
	digits [10][]digit
	byID   map[int]digit // by index into MNIST
	// letters are those that can't be taken for a digit.
	letters []hand.Strokes
}

type digit struct {
	glyph   *hand.Glyph
	strokes hand.Strokes
}

// NewSource traces the digits of glyphs whose index is in indices, and letters, which may be none.
// It uses all cores: about 1 ms a glyph on one.
func NewSource(glyphs []hand.Glyph, indices []int, letters []hand.Glyph) *Source {
	s := &Source{byID: make(map[int]digit, len(indices)), letters: make([]hand.Strokes, len(letters))}
	traced := make([]hand.Strokes, len(indices))
	var wg sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	for w := range workers {
		wg.Go(func() {
			for i := w; i < len(indices); i += workers {
				traced[i] = hand.Trace(&glyphs[indices[i]])
			}
			for i := w; i < len(letters); i += workers {
				s.letters[i] = hand.Trace(&letters[i])
			}
		})
	}
	wg.Wait()
	for i, id := range indices {
		d := digit{glyph: &glyphs[id], strokes: traced[i]}
		s.byID[id] = d
		s.digits[d.glyph.Label] = append(s.digits[d.glyph.Label], d)
	}
	return s
}

// any draws a digit of any class, all classes equally likely.
func (s *Source) any(rng *rand.Rand) digit {
	return s.of(uint8(rng.IntN(10)), rng)
}

func (s *Source) of(label uint8, rng *rand.Rand) digit {
	list := s.digits[label]
	return list[rng.IntN(len(list))]
}
