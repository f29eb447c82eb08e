package scan

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"gatefold/sheetmodel"
)

// Forms are the blank forms of all layouts that may turn up, prepared for finding and matching.
// Safe for concurrent use; nothing needs closing.
type Forms struct{ faces []*face }

// face is one side of one layout, with the places where its print fixes its position.
type face struct {
	hash   string // first 6 hex digits of the layout's content hash
	layout *sheetmodel.Layout
	side   *sheetmodel.Side
	marks  map[int]sheetmodel.Rect
	blank  *blank

	patchOnce sync.Once
	chosen    []patch // ask patches

	overForm coarseForm

	upright   bool // its photos are, see BlankOptions
	printOnce sync.Once
	print     *ownPrint
	printErr  error
}

// Prepare draws the blank forms of layouts. It costs some 100 ms a layout; the layouts must not be
// changed afterwards.
func Prepare(layouts ...*sheetmodel.Layout) (*Forms, error) {
	forms := &Forms{}
	seen := map[string]bool{}
	for _, layout := range layouts {
		hash := layout.HashStart()
		if seen[hash] {
			continue
		}
		seen[hash] = true
		for i := range layout.Sides {
			side := &layout.Sides[i]
			f := &face{hash: hash, layout: layout, side: side, marks: map[int]sheetmodel.Rect{}}
			for _, m := range side.Marks {
				f.marks[m.ID] = m.Rect
			}
			f.blank = drawBlank(side)
			if n := countPatches(f); len(f.marks) < minMarks || n < minPatches {
				return nil, fmt.Errorf("layout %s, %s: %d marks and %d places with print are too few to find it by", hash, side.Name, len(f.marks), n)
			}
			forms.faces = append(forms.faces, f)
		}
	}
	return forms, nil
}

// minPatches is what a displacement net needs to be held from all sides.
const minPatches = 20

// patches returns the places that hold enough print, row by row. They are cut when the first card is followed: 8 MB a
// side, and of all layouts that may turn up most never do.
func (f *face) patches() []patch {
	f.patchOnce.Do(func() { f.chosen = choosePatches(f) })
	return f.chosen
}

func (f *face) mark(id int) (sheetmodel.Rect, bool) {
	r, ok := f.marks[id]
	return r, ok
}

// sameMarks reports whether the marks of f and o lie alike, up to a shift; and the shift from f to o.
// Papers of two sizes carry the same form shifted, and only the printed identity tells them apart.
func (f *face) sameMarks(o *face) (shift sheetmodel.SheetPoint, same bool) {
	if len(f.marks) != len(o.marks) {
		return shift, false
	}
	first := true
	for id, a := range f.marks {
		b, ok := o.marks[id]
		if !ok {
			return shift, false
		}
		d := sheetmodel.SheetPoint{X: b.X - a.X, Y: b.Y - a.Y}
		if first {
			shift, first = d, false
		}
		if math.Abs(float64(d.X-shift.X)) > 0.05 || math.Abs(float64(d.Y-shift.Y)) > 0.05 || a.W != b.W {
			return shift, false
		}
	}
	return shift, true
}

// outlines returns one face for each arrangement of marks, for finding.
func (f *Forms) outlines() []*face {
	var out []*face
next:
	for _, a := range f.faces {
		if len(a.marks) == 0 {
			continue
		}
		for _, b := range out {
			if _, same := b.sameMarks(a); same {
				continue next
			}
		}
		out = append(out, a)
	}
	return out
}

// samePrint reports whether two faces are printed alike to the px.
func (f *face) samePrint(o *face) bool {
	return f.side.Name == o.side.Name && f.side.W == o.side.W && f.side.H == o.side.H && slices.Equal(f.blank.ink, o.blank.ink)
}

// fitted is how much of a face's print was seen on a card whose identity can't be read.
type fitted struct {
	face *face
	seen float64 // 0: it can't be followed
}

// alikeSeen is by how much less of another layout's print may be seen for it to be what was printed as well: writing
// and folds hide as much of either.
const alikeSeen = 0.05

// twinOf returns what was found of a face that is printed as f is, nil without any.
func twinOf(f *face, tried []fitted) *fitted {
	for i := range tried {
		if tried[i].face.samePrint(f) {
			return &tried[i]
		}
	}
	return nil
}

// alikeLayouts returns the layouts that fit about as well as the best, nil if it fits alone.
func alikeLayouts(tried []fitted, best float64) []*sheetmodel.Layout {
	var all []*sheetmodel.Layout
	for _, t := range tried {
		if t.seen > 0 && t.seen >= best-alikeSeen {
			all = append(all, t.face.layout)
		}
	}
	if len(all) < 2 {
		return nil
	}
	return all
}
