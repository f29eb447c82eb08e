package scan

import (
	"fmt"
	"image"
	"slices"

	"gocv.io/x/gocv"

	"gatefold/scan/byprint"
	"gatefold/sheetmodel"
)

// AlikeFormError says that a blank form can be laid on its own picture in a wrong way and fit: a photo of it
// can't tell which way up or which row it shows.
type AlikeFormError struct {
	Turn  int                   // quarter turns clockwise
	Shift sheetmodel.SheetPoint // of the turned form
}

// Error names the way and the remedy.
func (e *AlikeFormError) Error() string {
	how := fmt.Sprintf("when moved by %.0f mm across and %.0f mm down", e.Shift.X, e.Shift.Y)
	if e.Turn > 0 {
		how = fmt.Sprintf("when turned by %d degrees", 90*e.Turn)
	}
	return "blank form: it looks alike " + how + "; print a title or a number of its own on one side of it"
}

// BlankOptions say what is known of a blank form's picture and of its photos; the zero value is nothing.
type BlankOptions struct {
	// Corners are those of the card in the picture, px: top left, top right, bottom right, bottom left; nil if
	// the card fills it.
	Corners *[4]sheetmodel.PhotoPoint
	// Upright promises that all photos are taken with the form within 45 degrees of upright, so that it may look
	// alike when turned.
	Upright bool
	// Print is what is printed on the side, for those who read its pages, where the layout doesn't say.
	Print []sheetmodel.PrintItem
}

// PrepareBlank makes one side of a card that has no marks of ours ready to be found by its print alone.
//
// picture is a flat scan or a photo of it with nothing written on it, upright, 8-bit grey, 6 px/mm or more; it
// stays the caller's. layout gives the side's size and the fields that are known, if any; its marks are
// passed over. It must not be changed afterwards. Without fields all of its print must be in a photo.
//
// The error is a *byprint.FewFeaturesError or an *AlikeFormError for a form that can't be told from others
// or from itself. About 1 s. Join the result with other forms by And.
func PrepareBlank(picture gocv.Mat, layout *sheetmodel.Layout, name sheetmodel.SideName, opt BlankOptions) (*Forms, error) {
	side := layout.Side(name)
	if side == nil {
		return nil, fmt.Errorf("layout %s: no side %q", layout.Name, name)
	}
	page, err := byprint.Flatten(picture, opt.Corners, side.W, side.H, blankPxPerMM)
	if err != nil {
		return nil, err
	}
	defer page.Close()
	pix, err := page.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	// A copy without marks and identity, wherever the layout comes from: this form is found by print.
	plain := *side
	plain.Marks, plain.Identity = nil, nil
	if opt.Print != nil {
		plain.Print = opt.Print
	}
	f := &face{hash: layout.HashStart(), layout: layout, side: &plain, upright: opt.Upright, marks: map[int]sheetmodel.Rect{}}
	img := &image.Gray{Pix: slices.Clone(pix), Stride: page.Cols(), Rect: image.Rect(0, 0, page.Cols(), page.Rows())}
	f.blank = newBlank(img, nil)
	if n := countPatches(f); n < minPatches {
		return nil, &byprint.FewFeaturesError{Seen: n}
	}
	own, err := f.prints()
	if err != nil {
		return nil, err
	}
	if r := ambiguous(own.rivals); r != nil {
		return nil, &AlikeFormError{Turn: r.turn, Shift: r.shift}
	}
	return &Forms{faces: []*face{f}}, nil
}

// And returns the forms of both.
func (f *Forms) And(others ...*Forms) *Forms {
	all := &Forms{faces: slices.Clone(f.faces)}
	for _, o := range others {
		all.faces = append(all.faces, o.faces...)
	}
	return all
}

// marked reports whether any form carries our marks.
func (f *Forms) marked() bool {
	return slices.ContainsFunc(f.faces, func(f *face) bool { return len(f.marks) > 0 })
}

// ownPrint is what a face is found and checked by when marks are not there.
type ownPrint struct {
	form   *byprint.Form
	rivals []rival
	twins  [][]twin // by shift; none for a form with marks
}

// prints prepares a face for being found by its print. It costs a second, and most photos don't need it.
func (f *face) prints() (*ownPrint, error) {
	f.printOnce.Do(func() { f.print, f.printErr = preparePrint(f) })
	return f.print, f.printErr
}

func preparePrint(f *face) (*ownPrint, error) {
	m := gocv.NewMatWithSize(f.blank.h, f.blank.w, gocv.MatTypeCV8U)
	defer m.Close()
	pix, err := m.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	for i, v := range f.blank.ink {
		pix[i] = uint8(255 * (1 - min(max(v, 0), 1)))
	}
	form, err := byprint.Prepare(m, f.side.W, f.side.H)
	if err != nil {
		return nil, err
	}
	rivals, err := rivalsOf(f)
	if f.upright {
		rivals = slices.DeleteFunc(rivals, func(r rival) bool { return r.turn != 0 })
	}
	if err != nil || len(f.marks) > 0 {
		return &ownPrint{form: form, rivals: rivals}, err
	}
	twins, err := twinsOf(f)
	return &ownPrint{form: form, rivals: rivals, twins: twins}, err
}
