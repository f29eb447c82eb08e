package main

import (
	"math"
	"math/rand/v2"

	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// tickKind is what was done to a box.
type tickKind string

// The first group means the box, the second means nothing, the third can be meant in two ways: there only a
// question is right.
const (
	plainTick  tickKind = "tick"
	plainCross tickKind = "cross"
	plainSlash tickKind = "slash"
	faintMark  tickKind = "faint"   // 0.6 to 0.8 as dark as the writer's others
	sloppyMark tickKind = "sloppy"  // off its box's middle by up to a third of it
	longMark   tickKind = "leaving" // so large that it leaves its box
	twiceMark  tickKind = "twice"   // gone over again

	emptyBox tickKind = "empty"

	dotMark    tickKind = "dot"        // where a pencil was put down
	solidBox   tickKind = "solid"      // coloured in: a mark, or one taken back
	struckMark tickKind = "struck out" // a mark, and a scribble over it
	strayLine  tickKind = "stray line" // a slip of the pencil through the box, or ink of another field's mark
	traceMark  tickKind = "trace"      // a third to a half as dark, or a tenth at most darker than paper
	astrayMark tickKind = "astray"     // less than six tenths of its ink in its box, or a mark's worth in another
	secondMark tickKind = "second"     // of two marks where one belongs
)

var tickKinds = []tickKind{
	plainTick, plainCross, plainSlash, faintMark, sloppyMark, longMark, twiceMark, emptyBox,
	dotMark, solidBox, struckMark, strayLine, traceMark, astrayMark, secondMark,
}

func (k tickKind) meant() bool {
	switch k {
	case plainTick, plainCross, plainSlash, faintMark, sloppyMark, longMark, twiceMark:
		return true
	default:
		return false
	}
}

func (k tickKind) ambiguous() bool { return k != emptyBox && !k.meant() }

// Shares, ours: nobody has published how judges mark boxes.
const (
	choiceMarked = 0.85 // of choices with a mark
	loneMarked   = 0.30 // of lone boxes
	doubtfulOnes = 0.02 // of marked fields: one of the ambiguous kinds
	// leastPale is how much darker than paper a mark is that must not be missed: the palest pencil of the levels.
	leastPale = 0.12
)

var meantShares = []struct {
	kind  tickKind
	share float64
}{{plainTick, 0.32}, {plainCross, 0.32}, {plainSlash, 0.10}, {faintMark, 0.10}, {sloppyMark, 0.08}, {longMark, 0.05}, {twiceMark, 0.03}}

var ambiguousKinds = []tickKind{dotMark, solidBox, struckMark, strayLine, traceMark, secondMark}

// tickedField is what was done to the boxes of one field.
type tickedField struct {
	kinds []tickKind // a box
}

func (f tickedField) ambiguous() bool {
	for _, k := range f.kinds {
		if k.ambiguous() {
			return true
		}
	}
	return false
}

// want is the number of the box that is meant, -1 for none; only for fields that are not ambiguous.
func (f tickedField) want() int {
	for i, k := range f.kinds {
		if k.meant() {
			return i
		}
	}
	return -1
}

// markSheet marks the boxes of a side with one writer's pen. full is the share of fields that are looked at, so
// that a sheet may be as sparse as most cards are.
func markSheet(ink *hand.Ink, side *sheetmodel.Side, w hand.Writer, full float64, rng *rand.Rand) map[string]tickedField {
	all := map[string]tickedField{}
	for _, f := range side.Fields {
		t := tickedField{kinds: make([]tickKind, len(boxesOf(f)))}
		for i := range t.kinds {
			t.kinds[i] = emptyBox
		}
		all[f.Name] = t
	}
	for _, f := range side.Fields {
		boxes, marked := boxesOf(f), choiceMarked
		if len(boxes) == 1 {
			marked = loneMarked
		}
		if rng.Float64() >= marked*full {
			continue
		}
		for i, own := range all[f.Name].mark(ink, boxes, w, rng) {
			around := boxes[i].Grow(around)
			for _, other := range side.Fields {
				if other.Name != f.Name && other.Rect.Overlaps(around) {
					all[other.Name].reached(own, boxesOf(other))
				}
			}
		}
	}
	return all
}

// reached notes that ink meant for another field lies in boxes of this one. A mark there stays what it is.
func (f tickedField) reached(ink *hand.Ink, boxes []sheetmodel.Rect) {
	const dust = 0.2 // mm²
	for i, b := range boxes {
		if ink.Covered(b, inked) > dust && !f.kinds[i].meant() {
			f.kinds[i] = strayLine
		}
	}
}

// mark marks one of a field's boxes, or, where two are marked, two, and returns the ink of each, by box.
func (f tickedField) mark(ink *hand.Ink, boxes []sheetmodel.Rect, w hand.Writer, rng *rand.Rand) map[int]*hand.Ink {
	i := rng.IntN(len(boxes))
	kind := drawMeant(rng)
	if rng.Float64() < doubtfulOnes {
		kind = ambiguousKinds[rng.IntN(len(ambiguousKinds))]
	}
	laid := map[int]*hand.Ink{}
	if kind == secondMark {
		if len(boxes) == 1 {
			kind = dotMark
		} else {
			other := (i + 1 + rng.IntN(len(boxes)-1)) % len(boxes)
			f.kinds[other], laid[other] = strokes(ink, secondMark, boxes, other, w, rng)
		}
	}
	f.kinds[i], laid[i] = strokes(ink, kind, boxes, i, w, rng)
	return laid
}

func drawMeant(rng *rand.Rand) tickKind {
	x := rng.Float64()
	for _, m := range meantShares {
		if x -= m.share; x < 0 {
			return m.kind
		}
	}
	return plainTick
}

// around is how far about its box a mark is looked for, in mm: more than any reaches.
const around = 7

// inked is what counts as ink, as a share of the paper's grey.
const inked = 0.04

// strokes draws one mark in boxes[i] and returns its ink and its kind: astray if the ink itself doesn't say which box
// is meant.
func strokes(ink *hand.Ink, kind tickKind, boxes []sheetmodel.Rect, i int, w hand.Writer, rng *rand.Rand) (tickKind, *hand.Ink) {
	shapes := []hand.MarkKind{hand.Tick, hand.Tick, hand.Cross, hand.Cross, hand.Slash}
	shape := shapes[rng.IntN(len(shapes))]
	box := boxes[i]
	at := box.Grow(-0.6) // as fill has it
	// A mark is drawn on its own first, to see where its ink lies.
	own := hand.NewInk(box.Grow(around), ink.PxPerMM)
	again := 1
	switch kind {
	case plainTick:
		shape = hand.Tick
	case plainCross, secondMark:
		shape = hand.Cross
	case plainSlash:
		shape = hand.Slash
	case faintMark:
		w.Darker = max(w.Darker*(0.6+0.2*rng.Float64()), leastPale)
	case traceMark:
		w.Darker = min(w.Darker*(0.3+0.2*rng.Float64()), 0.10)
	case sloppyMark:
		at.X += at.W * sheetmodel.MM(0.66*(rng.Float64()-0.5))
		at.Y += at.H * sheetmodel.MM(0.66*(rng.Float64()-0.5))
	case longMark:
		more := 1.35 + 0.35*rng.Float64()
		w.HeightMM = max(w.HeightMM, float64(min(box.W, box.H))) * more
		at = box.Grow(min(box.W, box.H) * sheetmodel.MM(more-1) / 2)
	case twiceMark:
		again = 2
	case dotMark:
		shape = hand.Dots
	case solidBox:
		shape, at = hand.Fill, box
	case struckMark:
		defer func() { w.Mark(ink, hand.StrikeZigzag, box, rng) }()
	case strayLine:
		shape, at = hand.Stray, box.Grow(2)
	case emptyBox, astrayMark:
	}
	for range again {
		w.Mark(own, shape, at, rng)
	}
	lay(ink, own)
	if kind.meant() && !saysWhich(own, boxes, i) {
		return astrayMark, own
	}
	return kind, own
}

// saysWhich reports whether ink means boxes[i] and no other.
func saysWhich(ink *hand.Ink, boxes []sheetmodel.Rect, i int) bool {
	const (
		inside = 0.6  // of the ink in its box
		share  = 0.25 // and at most so much in any other
	)
	all := ink.Covered(boxes[i].Grow(around), inked)
	for k, b := range boxes {
		in := ink.Covered(b, inked)
		if k == i && in < inside*all || k != i && in > share*all {
			return false
		}
	}
	return all > 0
}

// lay puts the ink of part onto whole, where whole covers it.
func lay(whole, part *hand.Ink) {
	for y := range part.H {
		for x := range part.W {
			f := part.Factor[y*part.W+x]
			u, v := x+part.MinX-whole.MinX, y+part.MinY-whole.MinY
			if f == 255 || u < 0 || v < 0 || u >= whole.W || v >= whole.H {
				continue
			}
			p := &whole.Factor[v*whole.W+u]
			*p = uint8(math.Round(float64(*p) * float64(f) / 255))
		}
	}
}

// inkPxPerMM is the resolution that cards are filled at.
const inkPxPerMM = fill.InkPxPerMM
