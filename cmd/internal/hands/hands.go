// Package hands groups MNIST digits by who wrote them, one part of the split at a time.
//
//	testdata/split (indices) + MNIST + writer ids where GATEFOLD_DATA points --Load--> []*Hand
//
// Without the writer ids a Hand is a run of a hundred digits of the part, by several people: good
// enough to draw a demo or a test, never for figures per writer. Nothing needs closing.
package hands

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"sort"

	"gatefold/scan/camera/hand"
	"gatefold/testdata/split"
)

// Part names a part of the split.
type Part string

// The parts that this package deals in. Training writers are none of its business.
const (
	Calibration Part = "calibration" // demo and tests
	Threshold   Part = "threshold"   // choosing thresholds, nothing else
	Report      Part = "report"      // figures, nothing else
)

// Hand is one writer's digits.
type Hand struct {
	Writer int // MNIST's writer id, or a running number without ids
	digits [10][]glyph
	spare  *Hand
	recent map[int]int // glyph index -> when it was last given
	given  int
}

type glyph struct {
	index   int // in MNIST's file; report digits count from reportBase
	pixels  *hand.Glyph
	strokes *hand.Strokes
}

// reportBase keeps the indices of MNIST's two files apart.
const reportBase = 100000

// GlyphOf returns the digit as MNIST has it for a number that a hand gave it.
func GlyphOf(m *hand.MNIST, number int) *hand.Glyph {
	if number >= reportBase {
		return &m.Test[number-reportBase]
	}
	return &m.Train[number]
}

// Load returns the hands of one part, by ascending writer. withIDs tells whether they are real
// writers. mnist is the folder of MNIST's files, data the folder of writer ids, empty for none.
func Load(part Part, mnist, data string) (all []*Hand, withIDs bool, err error) {
	m, err := hand.ReadMNIST(mnist)
	if err != nil {
		return nil, false, err
	}
	glyphs, indices, file := m.Train, split.Calibration(), "mnist-train-writers.csv.gz"
	base := 0
	switch part {
	case Calibration:
	case Threshold:
		indices = split.Threshold()
	case Report:
		glyphs, file, base = m.Test, "mnist-t10k-writers.csv.gz", reportBase
		indices = make([]int, len(m.Test))
		for i := range indices {
			indices[i] = i
		}
	default:
		return nil, false, fmt.Errorf("part %q: must be calibration, threshold or report", part)
	}
	writerOf := func(i int) int { return i / 100 }
	if data != "" {
		ids, err := hand.ReadWriters(filepath.Join(data, "mnist-writers", file))
		if err != nil {
			return nil, false, err
		}
		writerOf, withIDs = func(i int) int { return ids[indices[i]] }, true
	}
	byWriter := map[int]*Hand{}
	for i, index := range indices {
		w := writerOf(i)
		h := byWriter[w]
		if h == nil {
			h = &Hand{Writer: w, recent: map[int]int{}}
			byWriter[w] = h
			all = append(all, h)
		}
		g := &glyphs[index]
		h.digits[g.Label] = append(h.digits[g.Label], glyph{index: base + index, pixels: g})
	}
	sort.Slice(all, func(i, j int) bool { return all[i].Writer < all[j].Writer })
	// A digit that a writer never wrote comes from the next writer who did.
	for i, h := range all {
		h.spare = all[(i+1)%len(all)]
	}
	return all, withIDs, nil
}

// Digit returns a glyph of d: one of the longest unused, at random among them, and its index. It is
// fill's Digits.
func (h *Hand) Digit(d int, rng *rand.Rand) (hand.Strokes, int) {
	owner := h
	for len(owner.digits[d]) == 0 {
		owner = owner.spare
	}
	own := owner.digits[d]
	best, bestAge := 0, -1
	for _, i := range rng.Perm(len(own)) {
		age := h.given + 1
		if at, ok := h.recent[own[i].index]; ok {
			age = h.given - at
		}
		if age > bestAge {
			best, bestAge = i, age
		}
	}
	g := &own[best]
	h.given++
	h.recent[g.index] = h.given
	return g.traced(), g.index
}

// Nth returns the writer's n-th glyph of d, counted round and round, and its index: the same ones for the
// same n, whatever was given before.
func (h *Hand) Nth(d, n int) (hand.Strokes, int) {
	owner := h
	for len(owner.digits[d]) == 0 {
		owner = owner.spare
	}
	g := &owner.digits[d][n%len(owner.digits[d])]
	return g.traced(), g.index
}

func (g *glyph) traced() hand.Strokes {
	if g.strokes == nil {
		traced := hand.Trace(g.pixels)
		g.strokes = &traced
	}
	return *g.strokes
}
