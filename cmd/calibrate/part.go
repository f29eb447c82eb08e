package main

import (
	"fmt"
	"image"

	"gatefold/sheetmodel"
)

// part is a rectangle of a side that is filled, photographed and read by itself.
type part struct {
	Name  string
	Side  *sheetmodel.Side // the whole one
	Rect  sheetmodel.Rect
	whole *sheetmodel.Side // Side with only the fields and marks inside Rect, in its frame
	local *sheetmodel.Side // what overlaps Rect, moved to its corner: what the reader is given
}

// holds reports whether a field lies inside as a whole, and so was filled.
func (p *part) holds(name string) bool { return p.whole.Field(name) != nil }

// newPart cuts rect out of side. Marks inside stay: the reader measures blur there.
func newPart(name string, side *sheetmodel.Side, rect sheetmodel.Rect) (*part, error) {
	p := &part{Name: name, Side: side, Rect: rect}
	whole := &sheetmodel.Side{Name: side.Name, W: side.W, H: side.H}
	local := &sheetmodel.Side{Name: side.Name, W: rect.W, H: rect.H}
	inside := func(r sheetmodel.Rect) bool {
		return rect.Contains(sheetmodel.SheetPoint{X: r.X, Y: r.Y}) && rect.Contains(sheetmodel.SheetPoint{X: r.X + r.W, Y: r.Y + r.H})
	}
	moved := func(r sheetmodel.Rect) sheetmodel.Rect {
		r.X, r.Y = r.X-rect.X, r.Y-rect.Y
		return r
	}
	for _, m := range side.Marks {
		if inside(m.Rect) {
			whole.Marks = append(whole.Marks, m)
			m.Rect = moved(m.Rect)
			local.Marks = append(local.Marks, m)
		}
	}
	for _, f := range side.Fields {
		if inside(f.Rect) {
			whole.Fields = append(whole.Fields, f)
		} else if !f.Rect.Overlaps(rect) {
			continue // what is cut off stays in local: its boxes are printed, and print must be known
		}
		options := make([]sheetmodel.Option, len(f.Options))
		for i, o := range f.Options {
			o.Rect = moved(o.Rect)
			options[i] = o
		}
		f.Rect, f.Options = moved(f.Rect), options
		local.Fields = append(local.Fields, f)
	}
	if len(local.Marks) == 0 || len(local.Fields) == 0 {
		return nil, fmt.Errorf("part %s: %d marks and %d fields inside", name, len(local.Marks), len(local.Fields))
	}
	for _, it := range side.Print {
		local.Print = append(local.Print, movedItem(it, rect))
	}
	for _, r := range side.Identity {
		local.Identity = append(local.Identity, moved(r))
	}
	p.whole, p.local = whole, local
	return p, nil
}

func movedItem(it sheetmodel.PrintItem, by sheetmodel.Rect) sheetmodel.PrintItem {
	shift := func(ps []sheetmodel.SheetPoint) []sheetmodel.SheetPoint {
		var out []sheetmodel.SheetPoint
		for _, q := range ps {
			out = append(out, sheetmodel.SheetPoint{X: q.X - by.X, Y: q.Y - by.Y})
		}
		return out
	}
	it.At.X, it.At.Y = it.At.X-by.X, it.At.Y-by.Y
	it.Line, it.Poly = shift(it.Line), shift(it.Poly)
	if it.Box != nil {
		b := *it.Box
		b.X, b.Y = b.X-by.X, b.Y-by.Y
		it.Box = &b
	}
	return it
}

// cut copies the part of a drawn page that holds rect and a little around it; bounds are the page's px.
func cut(page *image.Gray, rect sheetmodel.Rect, pxPerMM float64) *image.Gray {
	r := rect.Grow(2)
	b := image.Rect(
		int(float64(r.X)*pxPerMM), int(float64(r.Y)*pxPerMM),
		int(float64(r.X+r.W)*pxPerMM)+1, int(float64(r.Y+r.H)*pxPerMM)+1,
	).Intersect(page.Rect)
	out := image.NewGray(b)
	for y := b.Min.Y; y < b.Max.Y; y++ {
		copy(out.Pix[out.PixOffset(b.Min.X, y):], page.Pix[page.PixOffset(b.Min.X, y):page.PixOffset(b.Max.X, y)])
	}
	return out
}
