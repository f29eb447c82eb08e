//go:build cgo

package trial

import (
	"context"
	"fmt"
	"math/rand/v2"

	"gatefold/ocr"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// Boxes in which bibs fare well, in mm, as our own card has them; a size for advice, not a limit.
const (
	goodW sheetmodel.MM = 8
	goodH sheetmodel.MM = 10
)

// trySizes tries the way in which a card wants bibs written beside boxes of a good size, in the same hands and photos.
func trySizes(ctx context.Context, reader *ocr.Reader, groups []*Group, opt Options) ([]*Size, error) {
	var own *Group
	for _, g := range groups {
		if g.Part == sheetmodel.PartBib && !g.Strip && (g.Kind == sheetmodel.Comb || g.Kind == sheetmodel.Cell) {
			own = g
			break
		}
	}
	if own == nil || own.Kind == sheetmodel.Comb && own.W > goodW-0.5 && own.H > goodH-1 {
		return nil, nil
	}
	l := sizeSheet(own)
	side := &l.Sides[0]
	s, none := prepare(l, 0, print.RasterBlank(side, sheetPxPerMM/2), &Report{})
	if none != nil {
		return nil, nil //nolint:nilerr // a sheet of so large fields has too little print to be found by: no advice then
	}
	sizes := []*Size{{Own: true}, {}}
	for i, f := range side.Fields[:2] {
		_, of := groupsOf(&sheetmodel.Side{Fields: []sheetmodel.Field{f}})
		sizes[i].Group = *of[f.Name]
	}
	for n := range opt.Photos {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		meant, read, err := s.photo(reader, opt, n, rand.New(rand.NewPCG(opt.Seed, uint64(900000+n))))
		if err != nil {
			return nil, err
		}
		for i, f := range s.side.Fields {
			if read != nil {
				r, kept := read[f.Name]
				sizes[i%2].count(meant[f.Name].Text, r, kept)
			}
		}
	}
	return sizes, nil
}

// sizeSheet has two columns: bibs as the card has them, and in boxes of a good size. Each is a row of its own, for a row
// has one bib.
func sizeSheet(own *Group) *sheetmodel.Layout {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	word := func(x, y, size sheetmodel.MM, text string) {
		side.Print = append(side.Print, sheetmodel.PrintItem{Text: text, At: sheetmodel.SheetPoint{X: x, Y: y}, Size: size})
	}
	word(12, 18, 4.5, "Bibs, written twice")
	word(12, 25, 2.2, "left as the card wants them, right in boxes of a good size; each stands for itself")
	word(12, 203, 2.2, "This sheet is for trying only. It belongs to no race, and nobody keeps it.")
	pitch := max(own.H, goodH) + 3
	row := 0
	for y := sheetmodel.MM(34); y+pitch < 198; y += pitch {
		for col := range 2 {
			row++
			f := sheetmodel.Field{Name: fmt.Sprintf("row-%02d.bib", row), Part: sheetmodel.PartBib, Kind: sheetmodel.Comb, Row: row, Boxes: 3, Grammar: sheetmodel.GrammarBib}
			w, h := goodW, goodH
			if col == 0 {
				f.Kind, f.Boxes, w, h = own.Kind, own.Boxes, own.W, own.H
			}
			f.Rect = sheetmodel.Rect{X: 24 + 62*sheetmodel.MM(col), Y: y, W: min(w*sheetmodel.MM(max(1, f.Boxes)), 50), H: h}
			word(f.Rect.X-9, y+6, 2.6, fmt.Sprint(row))
			side.Fields = append(side.Fields, f)
		}
	}
	return &sheetmodel.Layout{Format: 1, Name: "sizes", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{side}}
}
