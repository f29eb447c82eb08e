package sheetmodel

import (
	"math/bits"
	"sync"
)

// Registration marks are squares of 6 × 6 modules: a black frame one module wide around a pattern
// of 4 × 4 modules. Patterns are chosen so that any two, in any of the four turns, and any one
// against its own turns, differ in at least MarkDistance modules; so a mark tells which it is and
// which way up it lies even with one module misread.

// MarkModules is the number of modules along a mark's side, frame included.
const MarkModules = 6

// MarkDistance is the least number of modules in which two marks differ, in any turn.
const MarkDistance = 5

// MarkCount is the number of marks in the dictionary.
const MarkCount = 16

// MarkPattern returns the 16 inner modules of mark id, row by row from the top left, bit 15 first;
// 1 is black. It panics for an id outside 0 to MarkCount-1, as a slice would.
func MarkPattern(id int) uint16 { return markDictionary()[id] }

// MarkFromPattern returns the mark whose pattern, turned clockwise by turn quarter turns, is nearest
// to seen, and in how many modules they differ. A caller should accept distances of 0 and 1 only.
func MarkFromPattern(seen uint16) (id, turn, distance int) {
	distance = 17
	for i, p := range markDictionary() {
		for t := range 4 {
			if d := bits.OnesCount16(seen ^ p); d < distance {
				id, turn, distance = i, t, d
			}
			p = turnPattern(p)
		}
	}
	return id, turn, distance
}

// markDictionary is the greedy lexicographic code with the distances above, balanced patterns only.
var markDictionary = sync.OnceValue(func() []uint16 {
	var words []uint16
	for w := 1; w < 1<<16 && len(words) < MarkCount; w++ {
		// As many black as white modules, give or take two: a mark must not look like a blot or a box.
		if n := bits.OnesCount16(uint16(w)); n < 6 || n > 10 {
			continue
		}
		if fitsDictionary(uint16(w), words) {
			words = append(words, uint16(w))
		}
	}
	return words
})

func fitsDictionary(w uint16, words []uint16) bool {
	t := w
	for range 3 {
		t = turnPattern(t)
		if bits.OnesCount16(t^w) < MarkDistance {
			return false
		}
	}
	for _, o := range words {
		t = w
		for range 4 {
			if bits.OnesCount16(t^o) < MarkDistance {
				return false
			}
			t = turnPattern(t)
		}
	}
	return true
}

// turnPattern turns a 4 × 4 pattern clockwise by a quarter turn.
func turnPattern(p uint16) uint16 {
	var q uint16
	for y := range 4 {
		for x := range 4 {
			if p&(1<<(15-(y*4+x))) != 0 {
				q |= 1 << (15 - (x*4 + 3 - y))
			}
		}
	}
	return q
}
