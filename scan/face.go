package scan

import (
	"fmt"
	"math"
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
