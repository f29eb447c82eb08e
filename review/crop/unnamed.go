package crop

import "gatefold/sheetmodel"

// beside is how much paper is shown around a row or a panel: ink runs over its box.
const beside sheetmodel.MM = 1

// ShownParts are the places of rows and panels on a side, never those of head, foot, remarks and margins: what may be shown to people who
// are told no names.
func ShownParts(side *sheetmodel.Side) []sheetmodel.Rect {
	var show []sheetmodel.Rect
	for _, f := range side.Fields {
		if shownField(f) {
			show = append(show, outOf(f.Rect.Grow(beside), side)...)
		}
	}
	return show
}

// shownField reports whether a field is handed around. Some leagues' cards have a column for remarks in their rows, where a judge
// writes who else saw it.
func shownField(f sheetmodel.Field) bool {
	return (f.Row > 0 || f.Panel != "") && f.Part != sheetmodel.PartRemark && f.Part != sheetmodel.PartRemarkRow
}

// outOf cuts off r what lies over a field that isn't shown: a band above or below it, or left or right of it.
func outOf(r sheetmodel.Rect, side *sheetmodel.Side) []sheetmodel.Rect {
	parts := []sheetmodel.Rect{r}
	for _, f := range side.Fields {
		if shownField(f) {
			continue
		}
		var left []sheetmodel.Rect
		for _, p := range parts {
			left = append(left, without(p, f.Rect)...)
		}
		parts = left
	}
	return parts
}

// without returns the up to four parts of r beside hole.
func without(r, hole sheetmodel.Rect) []sheetmodel.Rect {
	if hole.X >= r.X+r.W || hole.X+hole.W <= r.X || hole.Y >= r.Y+r.H || hole.Y+hole.H <= r.Y {
		return []sheetmodel.Rect{r}
	}
	x0, x1 := max(r.X, hole.X), min(r.X+r.W, hole.X+hole.W)
	y0, y1 := max(r.Y, hole.Y), min(r.Y+r.H, hole.Y+hole.H)
	var parts []sheetmodel.Rect
	for _, p := range []sheetmodel.Rect{
		{X: r.X, Y: r.Y, W: r.W, H: y0 - r.Y}, {X: r.X, Y: y1, W: r.W, H: r.Y + r.H - y1},
		{X: r.X, Y: y0, W: x0 - r.X, H: y1 - y0}, {X: x1, Y: y0, W: r.X + r.W - x1, H: y1 - y0},
	} {
		if p.W > 0 && p.H > 0 {
			parts = append(parts, p)
		}
	}
	return parts
}
