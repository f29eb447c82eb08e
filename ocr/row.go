package ocr

import (
	"cmp"
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// assemble puts the readings of a side into rows, strips, header and pictures, in the layout's order.
func assemble(out *sheetmodel.SheetReading, pg *page, read map[string]sheetmodel.Reading) {
	for n := 1; n <= pg.side.Rows(); n++ {
		if fields := pg.side.RowFields(n); len(fields) > 0 {
			out.Rows = append(out.Rows, readRow(pg, n, fields, read))
		}
	}
	for _, f := range pg.side.Fields {
		x, ok := read[f.Name]
		switch {
		case !ok:
		case f.Kind == sheetmodel.Drawing || f.Part == sheetmodel.PartRemark: // beside a row as well as below all of them
			out.Ink = append(out.Ink, x)
		case f.Row > 0:
		case f.Panel != "" && f.Part == sheetmodel.PartBib:
			out.Strips = append(out.Strips, sheetmodel.StripEntry{Panel: f.Panel, Entry: f.Entry, Bib: x})
		default:
			out.Header = append(out.Header, x)
		}
	}
	slices.SortStableFunc(out.Strips, func(a, b sheetmodel.StripEntry) int {
		return cmp.Or(cmp.Compare(a.Panel, b.Panel), cmp.Compare(a.Entry, b.Entry))
	})
	numberEntries(out.Strips)
}

// numberEntries numbers the bibs below a drawing anew, from the top and the left, where a layout gives several of them one number, or
// none: whoever asks for an entry by its number would get the first one's ink. strips are sorted.
func numberEntries(strips []sheetmodel.StripEntry) {
	for from := 0; from < len(strips); {
		to, twice := from+1, false
		for ; to < len(strips) && strips[to].Panel == strips[from].Panel; to++ {
			twice = twice || strips[to].Entry == strips[to-1].Entry
		}
		if of := strips[from:to]; twice {
			slices.SortStableFunc(of, func(a, b sheetmodel.StripEntry) int {
				return cmp.Or(cmp.Compare(a.Bib.Region.Y, b.Bib.Region.Y), cmp.Compare(a.Bib.Region.X, b.Bib.Region.X))
			})
			for i := range of {
				of[i].Entry = i + 1
			}
		}
		from = to
	}
}

// What the ink of a whole row says.
const (
	besideRowMM   = 7.0  // left and right of the fields: row number and margin
	crossingMM2   = 2.0  // ink of a neighbour's that is a row's own matter too
	strayMM2      = 0.6  // ink in no field that makes the row doubtful
	strikeRowPart = 0.45 // of the row's length: a line through the row
	thingMM2      = 12.0 // beside the fields: larger than a note
)

// readRow assembles one row. It has ink if anything was written in its band, in a field or not.
func readRow(pg *page, n int, fields []sheetmodel.Field, read map[string]sheetmodel.Reading) sheetmodel.Row {
	row := sheetmodel.Row{Number: n}
	all := map[sheetmodel.Part]*sheetmodel.Reading{
		sheetmodel.PartBib: &row.Bib, sheetmodel.PartBibAgain: &row.BibAgain, sheetmodel.PartCode: &row.Code,
		sheetmodel.PartCodeOther: &row.CodeOther, sheetmodel.PartGate: &row.Gate,
		sheetmodel.PartPanel: &row.Panel, sheetmodel.PartRerun: &row.Rerun,
	}
	for _, x := range all {
		*x = sheetmodel.Reading{Side: pg.side.Name, State: sheetmodel.Empty}
	}
	band := fields[0].Rect
	for _, f := range fields {
		band = band.Union(f.Rect)
		if x, ok := read[f.Name]; ok && all[f.Part] != nil {
			*all[f.Part] = oneOf(*all[f.Part], x)
		}
		if f.Part == sheetmodel.PartPassed {
			row.Passed = oneOf(row.Passed, read[f.Name])
		}
		if bib, ok := f.PrintedBib(); ok {
			row.Printed = bib
		}
	}
	stray := lookAtBand(pg, &row, band, fields)
	if !row.HasInk {
		blankRow(pg, all)
	}
	for _, x := range all {
		row.HasInk = row.HasInk || x.State != sheetmodel.Empty
	}
	if row.Printed == "" {
		doubtAlone(fields, all)
	}
	for _, x := range all {
		if x.State == sheetmodel.Empty {
			continue
		}
		if row.Struck && !x.HasDoubt(sheetmodel.DoubtStruckOut) {
			x.Doubt(sheetmodel.DoubtStruckOut, "a line runs through the row")
		}
	}
	if stray && row.Bib.State != sheetmodel.Empty {
		row.Bib.Doubt(sheetmodel.DoubtOutsideBox, "there is more ink in this row, in none of its boxes")
	}
	doubtQueried(pg, &row, fields)
	if row.Passed.Field != "" && row.Printed != "" {
		readPassage(pg, &row, fields)
	}
	return row
}

// oneOf returns what a row says of one part of which its layout has several fields, which a lint refuses by now: the one with ink,
// in doubt, for nothing tells which of them the card means.
func oneOf(before, x sheetmodel.Reading) sheetmodel.Reading {
	if before.Field == "" {
		return x
	}
	if before.State != sheetmodel.Empty {
		x = before
	}
	if x.State != sheetmodel.Empty {
		x.Doubt(sheetmodel.DoubtTwoMarks, "the layout has two fields for it in this row: "+before.Field+" and another")
	}
	return x
}

// readPassage settles what a mark beside a printed bib means. A line through the row leaves it to a person, and so does
// ink elsewhere in the row beside a mark: a fault was noted, or the mark was taken back in words.
//
// The bib of a row with other ink is what is printed there. It stays doubtful, for no curve knows print: a person who
// types it gives the second look.
func readPassage(pg *page, row *sheetmodel.Row, fields []sheetmodel.Field) {
	switch {
	case row.Struck:
		row.Passed.Doubt(sheetmodel.DoubtStruckOut, "a line runs through the row")
	case row.HasInk && row.Passed.State == sheetmodel.Clear:
		row.Passed.Doubt(sheetmodel.DoubtTwoMarks, "a mark for a passage, and more ink in its row")
	}
	unseen := slices.ContainsFunc(fields, func(f sheetmodel.Field) bool {
		_, ok := f.PrintedBib()
		return ok && pg.hidden(f.Rect)
	})
	const other = "the bib in print isn't seen as it was printed"
	if unseen && row.Passed.State != sheetmodel.Empty {
		row.Passed.Doubt(sheetmodel.DoubtHidden, other)
	}
	if !row.HasInk {
		return
	}
	for _, f := range fields {
		if _, ok := f.PrintedBib(); ok {
			row.Bib = sheetmodel.Reading{Field: f.Name, Side: row.Bib.Side, Text: row.Printed, State: sheetmodel.Doubtful, Region: f.Rect}
			row.Bib.Doubts = append(row.Bib.Doubts, sheetmodel.Doubt{Kind: sheetmodel.DoubtLowCertainty, Detail: "printed, not written: a person says which row is meant"})
			if unseen {
				row.Bib.Doubt(sheetmodel.DoubtHidden, other)
			}
		}
	}
}

// blankRow empties the fields of a row in which no stroke is seen anywhere and nothing but hints of marks,
// as grain, a fold of light or a letter printed darker than its like make them: without a bib they mean
// nothing, and who writes a bib leaves ink.
func blankRow(pg *page, all map[sheetmodel.Part]*sheetmodel.Reading) {
	for _, x := range all {
		if x.State != sheetmodel.Empty && (!pg.hints[x.Field] || x.HasDoubt(sheetmodel.DoubtHidden)) {
			return
		}
	}
	for _, x := range all {
		if x.State != sheetmodel.Empty {
			*x = sheetmodel.Reading{Field: x.Field, Side: x.Side, State: sheetmodel.Empty, Region: x.Region}
		}
	}
}

// doubtAlone doubts the marks in boxes of a row in which nothing is written: who ticks a box writes whom it is about, while a
// fold or a shadow's edge that runs down the card can look like a tick. A row without a bib is asked anyway. Where no bib
// could be written, as on a part of a card, none is missed.
func doubtAlone(fields []sheetmodel.Field, all map[sheetmodel.Part]*sheetmodel.Reading) {
	if !slices.ContainsFunc(fields, func(f sheetmodel.Field) bool { return f.Part == sheetmodel.PartBib }) {
		return
	}
	var boxes []sheetmodel.Part
	for _, f := range fields {
		if f.Kind == sheetmodel.Tick || f.Kind == sheetmodel.Choice {
			boxes = append(boxes, f.Part)
		}
	}
	for part, x := range all {
		if x.State != sheetmodel.Empty && !slices.Contains(boxes, part) {
			return
		}
	}
	for _, x := range all {
		if x.State == sheetmodel.Clear {
			x.Doubt(sheetmodel.DoubtOutside, "a mark, and nothing is written in its row")
		}
	}
}

// lookAtBand sets HasInk and Struck and reports whether the row has ink that belongs to no field.
func lookAtBand(pg *page, row *sheetmodel.Row, band sheetmodel.Rect, fields []sheetmodel.Field) (stray bool) {
	m := pg.ink
	wide := sheetmodel.Rect{X: band.X - besideRowMM, Y: band.Y, W: band.W + 2*besideRowMM, H: band.H}
	look := wide
	look.Y, look.H = look.Y-1.5, look.H+3
	for _, p := range m.pieces(look) {
		inside := m.within(p, wide)
		own := inside >= 0.5*p.area && inside >= speckMM2
		if !own && inside < crossingMM2 || m.grain(p) {
			continue
		}
		inFields, passage := 0.0, 0.0
		for _, f := range fields {
			inFields += m.within(p, f.Rect)
			if f.Part == sheetmodel.PartPassed {
				passage += m.within(p, f.Rect)
			}
		}
		if row.Printed != "" && passage >= ownShare*p.area {
			continue // a mark by itself says that a racer came by, and makes no row of faults
		}
		if inFields == 0 && (m.comesIn(p, look) || pg.rimOfCover(p)) {
			continue
		}
		row.HasInk = true
		if inside-inFields >= strayMM2 && inFields < 0.5*inside {
			stray = true
		}
	}
	row.Struck = row.HasInk && m.struckAcross(struckBand(band, fields))
	return stray
}

// struckBand is where a line must run to be one through the row: all of it but a field to draw or to remark in at its end.
// A card of another make may have more room for that than for all else, and what is drawn there, or a line that says
// "nothing to remark", strikes out nothing.
func struckBand(band sheetmodel.Rect, fields []sheetmodel.Field) sheetmodel.Rect {
	var read sheetmodel.Rect
	for _, f := range fields {
		switch {
		case f.Kind == sheetmodel.Drawing:
		case read.W == 0:
			read = f.Rect
		default:
			read = read.Union(f.Rect)
		}
	}
	if read.W == 0 {
		return band
	}
	return read
}

// comesIn reports whether a piece beside the fields comes in from the margin and from another row, as a
// finger, a clip or the edge of another card does: it is no ink of this row's. A note in the margin is not
// as large.
func (m *inkMap) comesIn(p piece, look sheetmodel.Rect) bool {
	if p.area < thingMM2 {
		return false
	}
	x0, y0, x1, y1 := pxSpan(look, m.w, m.h)
	return (p.x0 <= x0 || p.x1 >= x1) && (p.y0 <= y0 || p.y1 >= y1)
}

// What lies on a card from its edge on is darker than the paper beside it, all the way to the edge; a stroke has paper on
// both sides.
const (
	coverNear  = 9.0  // mm from the card's edge: farther in, nothing is taken for a cover's rim
	coverRoom  = 1.2  // mm that must be left between a rim and the edge, for its far side to be seen
	coverDark  = 0.90 // of the near side's grey, and less
	coverShare = 0.85 // of a rim's height along which it must be so
	coverCore  = 0.80 // of the far side's grey: a stroke at the rim of a shadow is darker than what lies behind it
)

// rimOfCover reports whether a piece of ink beside the fields is the rim of something that lies on the card from its left or
// right edge on, such as a fingertip or a clip.
func (pg *page) rimOfCover(p piece) bool {
	r := p.rect()
	var near, far [2]sheetmodel.MM // the paper on the fields' side, and what lies between the rim and the edge
	switch right := pg.side.W - (r.X + r.W); {
	case right >= coverRoom && right+r.W <= coverNear:
		near, far = [2]sheetmodel.MM{r.X - 2.5, r.X - 0.7}, [2]sheetmodel.MM{r.X + r.W, pg.side.W - 0.4}
	case r.X >= coverRoom && r.X+r.W <= coverNear:
		near, far = [2]sheetmodel.MM{r.X + r.W + 0.7, r.X + r.W + 2.5}, [2]sheetmodel.MM{0.4, r.X}
	default:
		return false
	}
	dark, n := 0, 0
	for y := int(float64(r.Y) * pg.pxPerMM); y <= int(float64(r.Y+r.H)*pg.pxPerMM); y++ {
		paper, ok := pg.greyAcross(y, near)
		beyond, also := pg.greyAcross(y, far)
		if !ok || !also {
			continue
		}
		n++
		own, _ := pg.greyAt(y, [2]sheetmodel.MM{r.X, r.X + r.W}, 0.1) // of a slanted stroke there is little in a row of px
		if beyond <= coverDark*paper && own > coverCore*beyond {
			dark++
		}
	}
	return n > 0 && float64(dark) >= coverShare*float64(n)
}

// greyAcross returns the middle grey of one row of px between two places, in mm.
func (pg *page) greyAcross(y int, span [2]sheetmodel.MM) (float64, bool) {
	return pg.greyAt(y, span, 0.5)
}

// greyAt returns the grey than which a share of such a row is darker.
func (pg *page) greyAt(y int, span [2]sheetmodel.MM, share float64) (float64, bool) {
	x0, x1 := max(int(float64(span[0])*pg.pxPerMM), 0), min(int(float64(span[1])*pg.pxPerMM), pg.w-1)
	if y < 0 || (y+1)*pg.w > len(pg.pix) || x1-x0 < 3 {
		return 0, false
	}
	v := slices.Sorted(slices.Values(pg.pix[y*pg.w+x0 : y*pg.w+x1+1]))
	return float64(v[int(float64(len(v))*share)]), true
}

// struckAcross reports whether a nearly level line of ink runs through a good part of a row. Its parts
// need not hang together: the double lines between cells are wider than what pieces are joined across.
func (m *inkMap) struckAcross(band sheetmodel.Rect) bool {
	x0, y0, x1, y1 := pxSpan(band, m.w, m.h)
	least := strikeRowPart * float64(band.W) * inkPxPerMM
	for slope := -0.07; slope <= 0.0701; slope += 0.01 {
		for y := y0; y < y1; y++ {
			if m.lineAcross(x0, x1, y0, y1, y, slope) >= least {
				return true
			}
		}
	}
	return false
}

// lineAcross returns the length, in px, of the longest line of ink on the line from (x0, y) on that stays
// between y0 and y1: the stroke through a neighbouring row is not this one's. What print hides neither
// breaks it nor counts as seen, and a quarter of what is seen may be missing.
func (m *inkMap) lineAcross(x0, x1, y0, y1, y int, slope float64) float64 {
	const gapPx = 7
	best, start, last, ink, seen := 0, -1, -1, 0, 0
	for x := x0; x < x1; x++ {
		v := y + int(math.Round(slope*float64(x-x0)))
		if v < 1 || v >= m.h-1 {
			return 0
		}
		if v < y0 || v >= y1 {
			return float64(best)
		}
		i := v*m.w + x
		switch {
		case m.level[i] != paper || m.level[i-m.w] != paper || m.level[i+m.w] != paper:
			if start < 0 {
				start, ink, seen = x, 0, 0
			}
			last, ink, seen = x, ink+1, seen+1
			if ink*4 >= seen*3 && ink*3 >= x-start {
				best = max(best, x-start+1)
			}
		case start < 0 || m.print[i]:
		default:
			if seen++; x-last > gapPx+bridgePx {
				start = -1
			}
		}
	}
	return float64(best)
}
