//go:build !cgo

package reading

import (
	"image"

	"gatefold/sheetmodel"
)

// Options of a Reader.
type Options struct {
	KeepPages bool
	Tesseract bool
	Header    bool
	Judges    func() []string
	AskForm   bool
}

// Forms are the blank forms of all layouts; without image support there are none.
type Forms struct{}

// Prepare does nothing here.
func Prepare([]*sheetmodel.Layout) (*Forms, error) { return nil, ErrNoImaging }

// PrepareBlank does nothing here.
func PrepareBlank(*sheetmodel.Layout, map[sheetmodel.SideName]*image.Gray) (*Forms, error) {
	return nil, ErrNoImaging
}

// Alike does nothing here.
func Alike(*Forms, *image.Gray) (*sheetmodel.Layout, error) { return nil, ErrNoImaging }

// And returns its receiver.
func (f *Forms) And(...*Forms) *Forms { return f }

// Open returns ErrNoImaging.
func Open(*Forms, Options) (Reader, error) { return nil, ErrNoImaging }
