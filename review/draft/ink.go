package draft

import (
	"gatefold/review/crop"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// around is how much paper is shown around a field: ink that runs over its box must be seen.
const around sheetmodel.MM = 2

// rowCrop is the row's whole width, or nil without a picture.
func (b *builder) rowCrop(r *stack.Row) *crop.Crop {
	if r.Sheet == nil {
		return nil
	}
	return b.crop(r.Sheet, func(f sheetmodel.Field) bool { return f.Row == r.Ref.Row && f.Kind != sheetmodel.Drawing },
		r.Ink.Bib, r.Ink.BibAgain, r.Ink.Code, r.Ink.CodeOther, r.Ink.Gate, r.Ink.Panel, r.Ink.Rerun)
}

// panelCrop is a drawing panel with its strip, or nil if there is no picture of it.
func (b *builder) panelCrop(c *stack.Card, panel string) *crop.Crop {
	on := c.PanelSheet()
	if on == nil || panel == "" {
		return nil
	}
	var readings []sheetmodel.Reading
	for _, r := range on.Read.Reading.Readings() {
		if stack.OnPanel(r.Field, panel) {
			readings = append(readings, r)
		}
	}
	return b.crop(on, func(f sheetmodel.Field) bool { return f.Panel == panel }, readings...)
}

// crop covers the layout's fields that want picks, or, where the layout is not at hand, the regions of
// the readings. It is nil if neither says where to look.
func (b *builder) crop(s *store.Sheet, want func(sheetmodel.Field) bool, readings ...sheetmodel.Reading) *crop.Crop {
	var rect sheetmodel.Rect
	add := func(r sheetmodel.Rect) {
		switch {
		case r.W <= 0 || r.H <= 0:
		case rect.W == 0:
			rect = r
		default:
			rect = rect.Union(r)
		}
	}
	if side := b.layoutSide(s); side != nil {
		for _, f := range side.Fields {
			if want(f) {
				add(f.Rect)
			}
		}
	}
	for _, r := range readings {
		add(r.Region)
	}
	if rect.W == 0 || s.Page == "" {
		return nil
	}
	return &crop.Crop{Sheet: s.ID, Side: s.Side, Page: s.Page, SHA256: s.PageSHA256, PxPerMM: s.PagePxPerMM, Rect: rect.Grow(around)}
}

func (b *builder) layoutSide(s *store.Sheet) *sheetmodel.Side {
	if b.opt.Layout == nil {
		return nil
	}
	l := b.opt.Layout(s.Layout)
	if l == nil {
		return nil
	}
	return l.Side(s.Side)
}
