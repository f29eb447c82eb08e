package strips

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"strconv"
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
func (s *Source) digit(writer int, d byte, rng *rand.Rand) hand.Strokes {
	list := s.any[d-'0']
	if w := s.digits[writer]; w != nil && len(w[d-'0']) > 0 {
		list = w[d-'0']
	}
	return list[rng.IntN(len(list))].get()
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
	pix, err := unzip(images)
	if err != nil {
		return nil, err
	}
	labels, err := unzip(strings.Replace(images, "images-idx3", "labels-idx1", 1))
	if err != nil {
		return nil, err
	}
	const imagesHead, labelsHead, px = 16, 8, 28 * 28
	n := len(labels) - labelsHead
	if n <= 0 || len(pix) != imagesHead+n*px || binary.BigEndian.Uint32(pix) != 0x803 {
		return nil, fmt.Errorf("%s: not images of 28 x 28 with their labels", images)
	}
	var out []hand.Glyph
	for i := range n {
		if i%10 < part.From || i%10 >= part.To {
			continue
		}
		g := hand.Glyph{Label: labels[labelsHead+i]}
		copy(g.Pix[:], pix[imagesHead+i*px:])
		out = append(out, g)
	}
	return out, nil
}

// ReadWriters returns MNIST's writers by index, from a gzipped CSV with columns index and writer.
func ReadWriters(path string) (map[int]int, error) {
	b, err := unzip(path)
	if err != nil {
		return nil, err
	}
	rows, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	ids := make(map[int]int, len(rows))
	for _, r := range rows[1:] {
		index, err1 := strconv.Atoi(r[0])
		writer, err2 := strconv.Atoi(r[3])
		if err := errors.Join(err1, err2); err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		ids[index] = writer
	}
	return ids, nil
}

func unzip(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // only read
	z, err := gzip.NewReader(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return io.ReadAll(z)
}
