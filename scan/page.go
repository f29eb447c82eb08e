package scan

import (
	"errors"
	"fmt"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// Page is one side of a card, upright and flat, with the way back to the photo. Close it.
type Page struct {
	Mat      gocv.Mat // 8-bit grey, the side's size in mm times PxPerMM; owned by the Page
	PxPerMM  float64
	Layout   *sheetmodel.Layout
	Side     *sheetmodel.Side
	Identity *sheetmodel.Identity // nil: neither of the two prints can be read, ask which card it is
	// MayBe are the layouts whose print fits about as well as Layout's, it among them: many backs are alike, and without
	// Identity nothing tells which was printed. Ask. Nil where one is known.
	MayBe []*sheetmodel.Layout
	// Or are the same paper straightened as other forms without marks that fit about as well: nothing tells which of them
	// was printed. Ask. They are closed with the page.
	Or      []*Page
	Quality Quality

	paper sheetMap
}

// Close frees the page's picture, and those of Or.
func (p *Page) Close() error {
	err := p.Mat.Close()
	for _, o := range p.Or {
		err = errors.Join(err, o.Close())
	}
	p.Or = nil
	return err
}

// TwoForms is the refusal of a page that fits several forms, for those who can't ask which it is; nil if it fits one.
func (p *Page) TwoForms() *RefusedError {
	if len(p.Or) == 0 {
		return nil
	}
	words := fmt.Sprintf("%s, %s", p.Layout.Name, p.Side.Name)
	for _, o := range p.Or {
		words += fmt.Sprintf(", and like %s, %s", o.Layout.Name, o.Side.Name)
	}
	return refused(FaultForms, "say which card it is by naming its layout alone, or take the other one out of the race's folder",
		"the card looks like %s, about as well", words)
}

// PhotoFromSheet returns where the photo shows a point of the sheet; the point may lie a few mm outside.
func (p *Page) PhotoFromSheet(s sheetmodel.SheetPoint) sheetmodel.PhotoPoint { return p.paper.at(s) }

// PageFromSheet returns where the straightened picture shows a point of the sheet.
func (p *Page) PageFromSheet(s sheetmodel.SheetPoint) sheetmodel.PagePoint {
	return sheetmodel.PageFromSheet(s, p.PxPerMM)
}

// Corners returns where the photo shows the card's corners: top left, top right, bottom right, bottom left as printed.
func (p *Page) Corners() [4]sheetmodel.PhotoPoint {
	var out [4]sheetmodel.PhotoPoint
	for i, c := range corners(sheetmodel.Rect{W: p.Side.W, H: p.Side.H}) {
		out[i] = p.paper.at(c)
	}
	return out
}

// Grid returns point pairs over the whole side, at most 10 mm apart, row by row from the top left: a
// single matrix can't follow bent paper.
func (p *Page) Grid() []PointPair {
	nx, ny := int(float64(p.Side.W)/10)+1, int(float64(p.Side.H)/10)+1
	var pairs []PointPair
	for j := range ny + 1 {
		for i := range nx + 1 {
			s := sheetmodel.SheetPoint{
				X: p.Side.W * sheetmodel.MM(i) / sheetmodel.MM(nx), Y: p.Side.H * sheetmodel.MM(j) / sheetmodel.MM(ny),
			}
			pairs = append(pairs, PointPair{Sheet: s, Photo: p.paper.at(s)})
		}
	}
	return pairs
}
