package review

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"gatefold/review/crop"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// inkView is a crop as a page shows it, in sheet mm, with one field framed.
type inkView struct {
	Src   string
	Rect  sheetmodel.Rect // of the picture
	Field sheetmodel.Rect // framed; W 0: nothing
	Close sheetmodel.Rect // the field with a little paper around it
	Alt   string          // where it is, never what it may read
}

// Wide and High give the picture its shape before it has come, in tenths of mm; 0 where it isn't known.
func (v inkView) Wide() int { return int(v.Rect.W * 10) }

// High is described at Wide.
func (v inkView) High() int { return int(v.Rect.H * 10) }

// around is how much paper is shown around fields: ink that runs over its box must be seen.
const around sheetmodel.MM = 2

func inkPath(sheet int64, what string) string { return fmt.Sprintf("/ink/%d/%s", sheet, what) }

// entryInk is the row of a field, the field framed; nil if no page was kept.
func (d *Desk) entryInk(row *stack.Row, e stack.Entry) *inkView {
	s := row.Sheet
	what := fmt.Sprintf("row-%02d", row.Ref.Row)
	k, ok := d.crop(s, what)
	if !ok {
		return nil
	}
	part, _, _ := partWords(e.Part)
	v := &inkView{
		Src: inkPath(s.ID, what), Rect: k.Rect, Field: d.fieldRect(s, e.Reading),
		Alt: fmt.Sprintf("Photo of card %d, row %d, with the box for the %s framed", row.Ref.Card, row.Ref.Row, part),
	}
	if e.Part == sheetmodel.PartCode {
		v.Field = union(v.Field, d.fieldRect(s, row.Ink.CodeOther))
	}
	if v.Field.W > 0 {
		v.Close = within(v.Field.Grow(around), k.Rect)
	} else {
		v.Close = k.Rect
	}
	return v
}

// fieldRect is where a field is printed, joined with where its ink lies.
func (d *Desk) fieldRect(s *store.Sheet, r sheetmodel.Reading) sheetmodel.Rect {
	rect := r.Region
	if side := d.side(s); side != nil {
		if f := side.Field(r.Field); f != nil {
			rect = union(rect, f.Rect)
		}
	}
	return rect
}

func (d *Desk) side(s *store.Sheet) *sheetmodel.Side {
	l := d.opt.Layout(s.Layout)
	if l == nil {
		return nil
	}
	return l.Side(s.Side)
}

// topOf is all of a side above its first row, where a head stands, or its upper third.
func topOf(side *sheetmodel.Side) sheetmodel.Rect {
	r := sheetmodel.Rect{W: side.W, H: side.H}
	for _, f := range side.Fields {
		if f.Row > 0 && f.Kind != sheetmodel.Drawing {
			r.H = min(r.H, f.Rect.Y)
		}
	}
	if r.H == side.H || r.H < 10 {
		r.H = side.H / 3
	}
	return r
}

// crop says which part of a sheet a name stands for: row-03, rows, panel-b, head, foot, top, side.
func (d *Desk) crop(s *store.Sheet, what string) (crop.Crop, bool) {
	k := crop.Crop{Sheet: s.ID, Side: s.Side, Page: s.Page, SHA256: s.PageSHA256, PxPerMM: s.PagePxPerMM}
	if s.Page == "" {
		return k, false
	}
	side := d.side(s)
	if what == "side" {
		k.Rect = sheetmodel.Rect{W: 1000, H: 1000} // what lies outside the page is left out
		if side != nil {
			k.Rect = sheetmodel.Rect{W: side.W, H: side.H}
		}
		return k, true
	}
	if what == "top" {
		k.Rect = sheetmodel.Rect{W: 1000, H: 60}
		if side != nil {
			k.Rect = topOf(side)
		}
		return k, true
	}
	row := 0
	if n, found := strings.CutPrefix(what, "row-"); found {
		if row, _ = strconv.Atoi(n); what != fmt.Sprintf("row-%02d", row) {
			return k, false // each part has one name, for what is sent is logged by it
		}
	}
	panel, isPanel := strings.CutPrefix(what, "panel-")
	panel, isPanel = strings.ToUpper(panel), isPanel && panel != "" // what is on no panel is no panel of its own
	firstRow, lastRow := sheetmodel.MM(1e6), sheetmodel.MM(0)
	if side != nil {
		for _, f := range side.Fields {
			if f.Row > 0 && f.Kind != sheetmodel.Drawing {
				firstRow, lastRow = min(firstRow, f.Rect.Y), max(lastRow, f.Rect.Y+f.Rect.H)
			}
		}
		for _, f := range side.Fields {
			switch {
			case row > 0 && f.Row == row && f.Kind != sheetmodel.Drawing, what == "rows" && f.Row > 0 && f.Kind != sheetmodel.Drawing, isPanel && f.Panel == panel,
				what == "head" && f.Rect.Y < firstRow && f.Row == 0, what == "foot" && f.Rect.Y > lastRow && f.Row == 0:
				k.Rect = union(k.Rect, f.Rect)
			}
		}
	}
	for _, r := range s.Read.Reading.Rows {
		if row > 0 && r.Number == row {
			for _, e := range []sheetmodel.Reading{r.Bib, r.BibAgain, r.Code, r.CodeOther, r.Gate, r.Panel, r.Rerun} {
				k.Rect = union(k.Rect, e.Region)
			}
		}
	}
	if k.Rect.W <= 0 {
		return k, false
	}
	k.Rect = k.Rect.Grow(around)
	if side != nil {
		k.Rect = within(k.Rect, sheetmodel.Rect{W: side.W, H: side.H})
	}
	return k, true
}

// showInk sends a crop. It holds pixels of the photo and nothing else.
func (d *Desk) showInk(w http.ResponseWriter, r *http.Request, s *session) error {
	id, err := strconv.ParseInt(r.PathValue("sheet"), 10, 64)
	if err != nil {
		return fmt.Errorf("sheet %q: %w", r.PathValue("sheet"), store.ErrNotFound)
	}
	sheet, err := d.opt.Store.Sheet(r.Context(), id)
	if err != nil {
		return err
	}
	what := r.PathValue("what")
	if s.roles().Nameless() && !strings.HasPrefix(what, "row-") && !strings.HasPrefix(what, "panel-") {
		return &pageError{http.StatusForbidden, "This picture may show a name or a phone number", "Ask whoever settles, or look at the paper itself."}
	}
	k, ok := d.crop(&sheet, what)
	if !ok {
		return &pageError{http.StatusNotFound, "No picture of this was kept", "Look at the paper itself."}
	}
	if s.roles().Nameless() {
		if k.Show = d.unnamed(&sheet, k.Rect); len(k.Show) == 0 {
			return &pageError{http.StatusForbidden, "This picture may show a name or a phone number", "Ask whoever settles, or look at the paper itself."}
		}
	}
	png, err := d.cutter.PNG(k)
	if err != nil {
		return err
	}
	var keys []string
	for _, read := range sheet.Read.Reading.Readings() {
		if what == "side" || what == "rows" && strings.HasPrefix(read.Field, "row-") || strings.HasPrefix(read.Field, what+".") {
			keys = append(keys, sheet.Key(read.Field))
		}
	}
	if err := d.serve(r.Context(), s, "ink", sheet.ID, false, keys...); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "image/png")
	w.Header().Set("Cache-Control", "private, max-age=3600") // a sheet never changes
	_, _ = w.Write(png)                                      // the browser has gone: there is nobody left to tell
	return nil
}

// unnamed are the parts of a picture that somebody may see who is told no names: a column for remarks may stand between two others, described
// or not, and a judge writes there who else saw it.
func (d *Desk) unnamed(s *store.Sheet, rect sheetmodel.Rect) (show []sheetmodel.Rect) {
	var parts []sheetmodel.Rect
	if side := d.side(s); side != nil {
		parts = crop.ShownParts(side)
	} else { // the layout is gone: what was read
		for _, r := range s.Read.Reading.Readings() {
			if strings.HasPrefix(r.Field, "row-") {
				parts = append(parts, r.Region)
			}
		}
	}
	for _, p := range parts {
		if p = within(p, rect); p.W > 0 && p.H > 0 {
			show = append(show, p)
		}
	}
	return show
}

func union(a, b sheetmodel.Rect) sheetmodel.Rect {
	switch {
	case a.W <= 0 || a.H <= 0:
		return b
	case b.W <= 0 || b.H <= 0:
		return a
	}
	return a.Union(b)
}

// within returns the part of r that lies in o.
func within(r, o sheetmodel.Rect) sheetmodel.Rect {
	x0, y0 := max(r.X, o.X), max(r.Y, o.Y)
	x1, y1 := min(r.X+r.W, o.X+o.W), min(r.Y+r.H, o.Y+o.H)
	return sheetmodel.Rect{X: x0, Y: y0, W: max(x1-x0, 0), H: max(y1-y0, 0)}
}
