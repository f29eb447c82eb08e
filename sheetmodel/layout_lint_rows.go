package sheetmodel

// What a card's rows say of each other: bibs that are missing, printed twice or another row's, and columns that some rows lack.

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// nobodysRows tells of rows in which something is said of nobody, where others have a bib.
func (l *Layout) nobodysRows() []fault {
	without, with := map[int]bool{}, map[int]bool{}
	rows := l.fieldsOfRows()
	for row, fields := range rows {
		switch {
		case firstOf(fields, PartBib) != nil:
			with[row] = true
		case firstOf(fields, PartGate, PartCode, PartPassed) != nil:
			without[row] = true
		}
	}
	if len(without) == 0 {
		return nil
	}
	has, them, do, those := "has", "it", "Does it go with the row beside it? Give it", "has one"
	if len(without) > 1 {
		has, them, do = "have", "they", "Do they go with the rows beside them? Give them"
	}
	if len(with) > 1 {
		those = "have one"
	}
	return []fault{l.atRows(without, fmt.Sprintf("%s %s a gate, a code or a box for who came by and no bib: %s can name no racer; %s %s. %s the same row number",
		rowsSaid(without), has, them, rowsSaid(with), those, do), func(row int, f *Field) bool { // the first of each
		return f == slices.MinFunc(rows[row], func(a, b *Field) int { return cmp.Compare(a.Rect.X, b.Rect.X) })
	})}
}

// ofNoRow tells of places for bibs, gates, codes and who came by that are neither a row's nor a drawing's: what is written there
// is read for nobody, and no question comes of it.
func (l *Layout) ofNoRow() []fault {
	var found []fault
	for _, s := range l.Sides {
		for _, f := range s.Fields {
			if f.Row > 0 || f.Panel != "" || !slices.Contains([]Part{PartBib, PartBibAgain, PartGate, PartCode, PartCodeOther, PartPassed}, f.Part) {
				continue
			}
			found = append(found, fault{
				noun: f.Name, side: s.Name, fields: []string{f.Name},
				text: fmt.Sprintf("side %s: field %s: said to be %s, but it belongs to no row: what is written there counts nowhere. Give it its row, or say what else it is for", s.Name, f.Name, f.Part),
			})
		}
	}
	return found
}

// rowsBehind tells of rows on a back in which something is written: the desk takes rows from fronts alone.
func (l *Layout) rowsBehind() []fault {
	s := l.Side(Back)
	if s == nil {
		return nil
	}
	behind := map[int]bool{}
	for _, f := range s.Fields {
		if f.Row > 0 && (f.Part == PartCode || f.Part == PartCodeOther || f.Part == PartGate || f.Part == PartBib && f.Kind != Printed) {
			behind[f.Row] = true
		}
	}
	if len(behind) == 0 {
		return nil
	}
	lie, them, hold := "lies", "it", "it holds"
	if len(behind) > 1 {
		lie, them, hold = "lie", "them", "they hold"
	}
	return []fault{{
		noun: string(Back), side: Back,
		text: fmt.Sprintf("side back: %s %s on the back, and rows are read on fronts alone: where %s ink people must type %s from the paper. Describe the back as a card of its own, as its front",
			rowsSaid(behind), lie, hold, them),
	}}
}

// unlikeOthers tells of rows that lack what other rows have whose bibs are drawn as theirs: a column that stands on the card several
// times and was named in one place only. Rows of another kind, in which a bib is written beside a list of printed ones say, may differ.
func (l *Layout) unlikeOthers() []fault {
	rows := l.fieldsOfRows()
	var found []fault
	for _, one := range []struct {
		parts []Part
		only  Style
		what  string
	}{
		{[]Part{PartPassed}, EveryRacer, "no box for who came by (passed)"},
		{[]Part{PartCode, PartCodeOther}, "", "no place for what happened (code)"},
		{[]Part{PartGate}, "", "no place for the gate (gate)"},
	} {
		if one.only != "" && l.Style != one.only {
			continue
		}
		without, with := map[int]bool{}, map[int]bool{}
		for row, fields := range rows {
			bib := firstOf(fields, PartBib)
			if bib == nil || firstOf(fields, one.parts...) != nil || gateInCode(one.parts, fields) {
				continue
			}
			for other, theirs := range rows {
				if b := firstOf(theirs, PartBib); b != nil && firstOf(theirs, one.parts...) != nil && drawnAlike(bib, b) {
					without[row], with[other] = true, true
				}
			}
		}
		if len(without) == 0 {
			continue
		}
		verb, those := "has", "has"
		if len(without) > 1 {
			verb = "have"
		}
		if len(with) > 1 {
			those = "have"
		}
		// Where those rows have their own, and as large: a column of another name, maybe; else the bibs.
		own := rows[slices.Min(slices.Collect(maps.Keys(with)))]
		example, inset := firstOf(own, one.parts...), firstOf(own, one.parts...).Rect.X-firstOf(own, PartBib).Rect.X
		there := map[int]*Field{}
		for row := range without {
			bib := firstOf(rows[row], PartBib)
			there[row] = bib
			for _, f := range rows[row] {
				like := Field{Kind: example.Kind, Boxes: example.Boxes, Rect: f.Rect}
				if f.Part != PartBib && drawnAlike(&like, example) && math.Abs(float64(f.Rect.X-bib.Rect.X-inset)) < columnsApart {
					there[row] = f
				}
			}
		}
		found = append(found, l.atRows(without, fmt.Sprintf("%s %s %s; %s %s", rowsSaid(without), verb, one.what, rowsSaid(with), those),
			func(row int, f *Field) bool { return there[row] == f }))
	}
	return found
}

// outnumbered returns what most of the rows have, and what fewer have, in order. rows has at least one key.
func outnumbered[K cmp.Ordered](rows map[K]map[int]bool) (most K, others []K) {
	all := slices.Sorted(maps.Keys(rows))
	most = slices.MaxFunc(all, func(a, b K) int { return len(rows[a]) - len(rows[b]) })
	return most, slices.DeleteFunc(all, func(k K) bool { return k == most })
}

// has is the verb for these rows.
func has(rows map[int]bool) string {
	if len(rows) > 1 {
		return "have"
	}
	return "has"
}

// gateInCode reports whether a row that has no field for the gate needs none, because it is written with the code.
func gateInCode(parts []Part, row []*Field) bool {
	return slices.Contains(parts, PartGate) && slices.ContainsFunc(row, func(f *Field) bool { return f.Grammar == GrammarCodeGate })
}

// otherBoxes tells of rows whose boxes for a number are as many as those of other rows are not, though they are as wide and lie
// over each other. A divider was overlooked there, or a figure was typed wrongly; digits would be cut where no line is.
func (l *Layout) otherBoxes() []fault {
	var found []fault
	for i := range l.Sides {
		s := &l.Sides[i]
		for done := map[string]bool{}; ; {
			k := slices.IndexFunc(s.Fields, func(f Field) bool { return f.Kind == Comb && f.Row > 0 && !done[f.Name] })
			if k < 0 {
				break
			}
			rows, names := map[int]map[int]bool{}, map[string]bool{} // rows by their number of boxes
			for m := range s.Fields {
				f, first := &s.Fields[m], &s.Fields[k]
				if f.Kind != Comb || f.Row == 0 || f.Part != first.Part || math.Abs(float64(f.Rect.X-first.Rect.X)) >= columnsApart || math.Abs(float64(f.Rect.W-first.Rect.W)) >= columnsApart {
					continue
				}
				if rows[f.Boxes] == nil {
					rows[f.Boxes] = map[int]bool{}
				}
				rows[f.Boxes][f.Row], names[f.Name], done[f.Name] = true, true, true
			}
			most, others := outnumbered(rows)
			for _, n := range others {
				boxes := "boxes"
				if n == 1 {
					boxes = "box"
				}
				found = append(found, l.atRows(rows[n], fmt.Sprintf("%s %s %d %s for %s; %s, as wide, %s %d. Count them on the card",
					rowsSaid(rows[n]), has(rows[n]), n, boxes, s.Fields[k].Part, rowsSaid(rows[most]), has(rows[most]), most),
					func(_ int, f *Field) bool { return names[f.Name] && f.Boxes == n }))
			}
		}
	}
	return found
}

// fieldsOfRows are the fields of each row.
func (l *Layout) fieldsOfRows() map[int][]*Field {
	rows := map[int][]*Field{}
	for i := range l.Sides {
		for k := range l.Sides[i].Fields {
			if f := &l.Sides[i].Fields[k]; f.Row > 0 {
				rows[f.Row] = append(rows[f.Row], f)
			}
		}
	}
	return rows
}

// firstOf is the first field of a row that is for one of some parts, nil if there is none.
func firstOf(row []*Field, parts ...Part) *Field {
	if i := slices.IndexFunc(row, func(f *Field) bool { return slices.Contains(parts, f.Part) }); i >= 0 {
		return row[i]
	}
	return nil
}

const columnsApart = 1.5 // mm, by which columns that are drawn alike differ when they were measured in a picture

// drawnAlike reports whether two fields may be of one column that stands on a card several times.
func drawnAlike(a, b *Field) bool {
	return a.Kind == b.Kind && a.Boxes == b.Boxes && math.Abs(float64(a.Rect.W-b.Rect.W)) < columnsApart && math.Abs(float64(a.Rect.H-b.Rect.H)) < columnsApart
}

// atRows is a fault that lies at one field of each of some rows. Those that can be chosen at once are those of one side.
func (l *Layout) atRows(rows map[int]bool, text string, pick func(row int, f *Field) bool) fault {
	found := fault{text: text}
	for i := range l.Sides {
		s := &l.Sides[i]
		for k := range s.Fields {
			f := &s.Fields[k]
			if rows[f.Row] && (found.side == "" || found.side == s.Name) && pick(f.Row, f) {
				found.side, found.fields = s.Name, append(found.fields, f.Name)
			}
		}
	}
	return found
}

// rowsSaid names rows: "row 7", "rows 3, 11 to 20 and 30".
func rowsSaid(rows map[int]bool) string {
	sorted := slices.Sorted(maps.Keys(rows))
	var runs []string
	for i := 0; i < len(sorted); {
		k := i
		for k+1 < len(sorted) && sorted[k+1] == sorted[k]+1 {
			k++
		}
		one := fmt.Sprint(sorted[i])
		if k > i {
			one = fmt.Sprintf("%d to %d", sorted[i], sorted[k])
		}
		runs = append(runs, one)
		i = k + 1
	}
	text := strings.Join(runs, ", ")
	if n := len(runs); n > 1 {
		text = strings.Join(runs[:n-1], ", ") + " and " + runs[n-1]
	}
	if len(sorted) == 1 {
		return "row " + text
	}
	return "rows " + text
}

// printedTwice tells of bibs that stand in print in several rows. Two groups may each begin with 1. Otherwise the
// first bib of a column was said wrongly, and all its rows would name other racers.
func (l *Layout) printedTwice() []string {
	rows := map[string][]int{}
	for _, s := range l.Sides {
		for _, f := range s.Fields {
			if f.Part != PartBib || f.Kind != Printed || f.Row == 0 || len(f.Options) == 0 {
				continue
			}
			if bib := f.Options[0].Value; !slices.Contains(rows[bib], f.Row) {
				rows[bib] = append(rows[bib], f.Row)
			}
		}
	}
	var first string
	n := 0
	for bib, in := range rows {
		if len(in) < 2 {
			continue
		}
		n++
		slices.Sort(in)
		if first == "" || in[0] < rows[first][0] || in[0] == rows[first][0] && bib < first {
			first = bib
		}
	}
	if n == 0 {
		return nil
	}
	others := ""
	if n > 1 {
		others = fmt.Sprintf(", and %d more bibs are so", n-1)
	}
	return []string{fmt.Sprintf("bib %s is printed in rows %d and %d%s: is it printed so on the card? If not, look at Bibs printed from",
		first, rows[first][0], rows[first][1], others)}
}

// besideAnother tells of fields that don't stand beside or below the bib of their row, and do stand beside that of
// another one: what is written there would be said of the wrong racer.
func (s *Side) besideAnother() []fault {
	bibs := map[int]Rect{}
	for _, f := range s.Fields {
		if f.Part == PartBib && f.Row > 0 {
			bibs[f.Row] = f.Rect
		}
	}
	var found []fault
	first := map[Part]int{} // where a part is told of
	more := map[Part]int{}
	for _, f := range s.Fields {
		own, ok := bibs[f.Row]
		if !ok || f.Part == PartBib || shared(f.Rect.Y, f.Rect.H, own.Y, own.H) > 0 || shared(f.Rect.X, f.Rect.W, own.X, own.W) > 0 {
			continue
		}
		other, away := 0, MM(0)
		for row, r := range bibs {
			gap := MM(math.Abs(float64(r.X - f.Rect.X)))
			if shared(f.Rect.Y, f.Rect.H, r.Y, r.H) > min(f.Rect.H, r.H)/2 && (other == 0 || gap < away || gap == away && row < other) {
				other, away = row, gap
			}
		}
		if other == 0 {
			continue
		}
		if _, told := first[f.Part]; told {
			more[f.Part]++
			continue
		}
		first[f.Part] = len(found)
		found = append(found, atField(s, f, fmt.Sprintf("said to be of row %d, but it stands beside the bib of row %d", f.Row, other)))
	}
	for part, n := range more {
		found[first[part]].text += fmt.Sprintf("; so do %d more of its column", n)
	}
	return found
}

// shared is how much of a line two spans share.
func shared(a, long, b, wide MM) MM { return max(0, min(a+long, b+wide)-max(a, b)) }

// counted are the parts of which a row has one place: of a second one in it the reader keeps only one.
var counted = []Part{PartBib, PartBibAgain, PartCode, PartCodeOther, PartGate, PartPanel, PartRerun, PartPassed}

// TwoPlaces tells of rows that have two places for the same thing: two rows that got one number, or columns that were not joined.
// Only one of the two is read, so what stands in the other is lost, or a fault is said of the other's racer.
func (l *Layout) TwoPlaces() []string {
	var found []string
	for _, f := range l.twoPlaces() {
		found = append(found, f.text)
	}
	return found
}

func (l *Layout) twoPlaces() []fault {
	var found []fault
	for i := range l.Sides {
		s := &l.Sides[i]
		for _, part := range counted {
			n, twice := map[int]int{}, map[int]bool{}
			for _, f := range s.Fields {
				if f.Row > 0 && f.Part == part {
					n[f.Row]++
					if n[f.Row] > 1 {
						twice[f.Row] = true
					}
				}
			}
			if len(twice) == 0 {
				continue
			}
			have := "has"
			if len(twice) > 1 {
				have = "have"
			}
			why := fault{text: fmt.Sprintf("side %s: %s %s two places for the same, %s: only one of them would be read. Give rows beside each other numbers of their own, and join boxes that are one choice",
				s.Name, rowsSaid(twice), have, part), side: s.Name}
			for _, f := range s.Fields {
				if twice[f.Row] && f.Part == part {
					why.fields = append(why.fields, f.Name)
				}
			}
			found = append(found, why)
		}
	}
	return found
}

// whichCard are the parts of a head by which a card may be known without a person.
var whichCard = []Part{PartCard, PartRun, PartCourse, PartGateFrom, PartGateTo}

// OtherRows tells of fields that are said to be of a row, and stand beside another one's bib of the same column as its own: what is written
// there would be said of the wrong racer. Unlike besideAnother it leaves out what a card of blocks that begin at different heights may have.
func (l *Layout) OtherRows() []string {
	var found []string
	for i := range l.Sides {
		s := &l.Sides[i]
		bibs := map[int]Rect{}
		for _, f := range s.Fields {
			if f.Part == PartBib && f.Row > 0 {
				bibs[f.Row] = f.Rect
			}
		}
		rows := slices.Sorted(maps.Keys(bibs))
		for _, f := range s.Fields {
			own, ok := bibs[f.Row]
			if !ok || !slices.Contains(counted, f.Part) || f.Part == PartBib || shared(f.Rect.Y, f.Rect.H, own.Y, own.H) > 0 || shared(f.Rect.X, f.Rect.W, own.X, own.W) > 0 {
				continue
			}
			for _, row := range rows {
				b := bibs[row]
				if shared(f.Rect.Y, f.Rect.H, b.Y, b.H) > min(f.Rect.H, b.H)/2 && math.Abs(float64(b.X-own.X)) < columnsApart {
					found = append(found, fmt.Sprintf("side %s: %s is said to be of row %d, and stands beside the bib of row %d: what is written there would be said of the wrong racer. "+
						"Give it that row's number and name, or move it", s.Name, f.Name, f.Row, row))
					break
				}
			}
		}
	}
	return found
}

// OneInk tells of two places for two things that lie on each other, the first of a side: what is written there once would be read as both, a bib as its own
// second writing, or as that of two rows.
func (l *Layout) OneInk() []string {
	var found []string
	for i := range l.Sides {
		s := &l.Sides[i]
		var read []*Field
		for k := range s.Fields {
			f := &s.Fields[k]
			row := f.Row > 0 && slices.Contains(counted, f.Part)
			strip := f.Row == 0 && f.Part == PartBib && f.Panel != ""
			head := f.Row == 0 && slices.Contains(whichCard, f.Part)
			if (row || strip || head) && f.Kind != Printed { // a mark may be meant to go through the print
				read = append(read, f)
			}
		}
		for k, a := range read {
			at := slices.IndexFunc(read[k+1:], func(b *Field) bool { return sameInk(a, b) })
			if at >= 0 { // one is enough: thousands may lie on each other in somebody's file
				found = append(found, fmt.Sprintf("side %s: %s and %s lie on each other: what is written there once would be read as both. Give each its own place",
					s.Name, a.Name, read[k+1+at].Name))
				break
			}
		}
	}
	return found
}

// sameInk reports whether two fields lie on each other where something is written: of a choice only its boxes, for what stands between
// those may be another column.
func sameInk(a, b *Field) bool {
	places := func(f *Field) []Rect {
		if len(f.Options) == 0 {
			return []Rect{f.Rect}
		}
		var all []Rect
		for _, o := range f.Options {
			all = append(all, o.Rect)
		}
		return all
	}
	return slices.ContainsFunc(places(a), func(p Rect) bool { return slices.ContainsFunc(places(b), p.SameInk) })
}

// panelLetters tells of drawings whose letters no row can name, and of letters that rows may name and no drawing has: a bib that is written
// once more below such a drawing is never held against its row.
func (l *Layout) panelLetters() []fault {
	var found []fault
	drawn, below, named := map[string]bool{}, map[string]string{}, map[string]string{} // with the first field of each
	for i := range l.Sides {
		s := &l.Sides[i]
		for _, f := range s.Fields {
			if f.Panel != "" && f.Row == 0 {
				if utf8.RuneCountInString(f.Panel) != 1 || strings.ToUpper(f.Panel) != f.Panel {
					found = append(found, atField(s, f, fmt.Sprintf("panel %q: write one capital letter, for so rows name it", f.Panel)))
				}
				drawn[f.Panel] = true
				if f.Part == PartBib && below[f.Panel] == "" {
					below[f.Panel] = f.Name
				}
			}
			if f.Part == PartPanel && f.Row > 0 && len(f.Options) > 0 {
				for _, o := range f.Options {
					if named[o.Value] == "" {
						named[o.Value] = f.Name
					}
				}
			}
		}
	}
	if len(drawn) == 0 || len(named) == 0 {
		return found
	}
	for _, letter := range slices.Sorted(maps.Keys(named)) {
		if !drawn[letter] {
			found = append(found, fault{text: fmt.Sprintf("%s may name drawing %s, and no drawing has that letter", named[letter], letter)})
		}
	}
	for _, letter := range slices.Sorted(maps.Keys(below)) {
		if named[letter] == "" {
			found = append(found, fault{text: fmt.Sprintf("no row can name drawing %s, below which %s is for bibs", letter, below[letter])})
		}
	}
	return found
}

// calledOtherwise tells of fields whose names don't say their row and part: by its name the desk keeps what people type of a field,
// and knows what the head says.
func (s *Side) calledOtherwise() []fault {
	var found []fault
	for _, f := range s.Fields {
		row, part, _ := strings.Cut(f.Name, ".")
		part = part[strings.LastIndexByte(part, '.')+1:]
		head := slices.Contains([]Part{PartGroup, PartCourse, PartRun, PartCard, PartGateFrom, PartGateTo, PartRowCount, PartCardOf, PartCardTotal}, f.Part)
		switch {
		case f.Row > 0 && slices.Contains(counted, f.Part):
			number, ok := strings.CutPrefix(row, "row-")
			number, _, _ = strings.Cut(number, "-") // a second one of its part is told of by itself
			if n, err := strconv.Atoi(number); !ok || err != nil || n != f.Row || Part(part) != f.Part {
				found = append(found, atField(s, f, fmt.Sprintf("its name doesn't say that it is the %s of its row, and what is typed of it would be kept for another one: a name is row and part, such as row-03.bib", f.Part)))
			}
		case f.Row == 0 && (head || f.Part == PartBib && f.Panel != "") && Part(part) != f.Part:
			found = append(found, atField(s, f, fmt.Sprintf("its name doesn't end in %s: nobody would know what it is for; call it %s.%s", f.Part, row, f.Part)))
		}
	}
	return found
}

// otherOrder tells of rows whose boxes stand for the same codes as those of other rows, or for as many, in another order: a tick
// would be read as another code there.
func (l *Layout) otherOrder() []fault {
	var found []fault
	rows := l.fieldsOfRows()
	codes := map[int]*Field{}
	for row, fields := range rows {
		if f := firstOf(fields, PartCode); f != nil && f.Kind == Choice && len(f.Options) > 0 {
			codes[row] = f
		}
	}
	for _, row := range slices.Sorted(maps.Keys(codes)) {
		if codes[row] == nil {
			continue
		}
		like, orders := codes[row], map[string]map[int]bool{}
		for other, f := range codes {
			if f != nil && drawnAlike(f, like) && len(f.Options) == len(like.Options) {
				if orders[f.order()] == nil {
					orders[f.order()] = map[int]bool{}
				}
				orders[f.order()][other], codes[other] = true, nil
			}
		}
		most, others := outnumbered(orders)
		for _, order := range others {
			found = append(found, l.atRows(orders[order], fmt.Sprintf("%s %s boxes for %s; %s, drawn alike, %s %s. Look at the card: a tick would be read as another code",
				rowsSaid(orders[order]), has(orders[order]), order, rowsSaid(orders[most]), has(orders[most]), most), func(_ int, f *Field) bool { return f.Part == PartCode }))
		}
	}
	return found
}

// order says what the boxes of a choice stand for, as they stand on the card.
func (f Field) order() string {
	options := slices.Clone(f.Options)
	slices.SortStableFunc(options, func(a, b Option) int {
		if math.Abs(float64(a.Rect.Y-b.Rect.Y)) > float64(min(a.Rect.H, b.Rect.H))/2 {
			return cmp.Compare(a.Rect.Y, b.Rect.Y)
		}
		return cmp.Compare(a.Rect.X, b.Rect.X)
	})
	var values []string
	for _, o := range options {
		values = append(values, o.Value)
	}
	return strings.Join(values, " ")
}

// across tells of rows that lie through each other: a field of one stands between those of the other, though each stands at the height
// of the bib of its own. In tables side by side such a column was given to the wrong one of them.
func (s *Side) across() []fault {
	first := map[int]Rect{}
	bands := map[int]Rect{}
	for _, f := range s.Fields {
		if f.Row == 0 || !slices.Contains(counted, f.Part) {
			continue
		}
		if f.Part == PartBib {
			first[f.Row] = f.Rect
		}
		if b, ok := bands[f.Row]; ok {
			bands[f.Row] = b.Union(f.Rect)
		} else {
			bands[f.Row] = f.Rect
		}
	}
	rows := map[int]bool{}
	for _, f := range s.Fields {
		own, ok := first[f.Row]
		if !ok || !slices.Contains(counted, f.Part) || f.Part == PartBib || shared(f.Rect.Y, f.Rect.H, own.Y, own.H) < min(f.Rect.H, own.H)/2 {
			continue
		}
		for other, bib := range first {
			b := bands[other]
			if other != f.Row && shared(f.Rect.Y, f.Rect.H, bib.Y, bib.H) > min(f.Rect.H, bib.H)/2 &&
				shared(f.Rect.X, f.Rect.W, b.X, b.W) > f.Rect.W/2 {
				rows[f.Row], rows[other] = true, true
			}
		}
	}
	if len(rows) == 0 {
		return nil
	}
	return []fault{{
		text: fmt.Sprintf("side %s: %s lie through each other: what stands between the fields of one is said to be another's. Is each column given to the rows of its own table?", s.Name, rowsSaid(rows)),
		side: s.Name, fields: s.bibsOf(rows),
	}}
}

// upwards tells of rows that are numbered from the foot: a judge who names a row, and a remark about one, count from the top.
func (s *Side) upwards() []fault {
	bad := map[int]bool{}
	for _, a := range s.Fields {
		for _, b := range s.Fields {
			if a.Part == PartBib && b.Part == PartBib && a.Row > 0 && b.Row > a.Row && b.Rect.Y+b.Rect.H/2 < a.Rect.Y && math.Abs(float64(a.Rect.X-b.Rect.X)) < columnsApart {
				bad[a.Row], bad[b.Row] = true, true
			}
		}
	}
	if len(bad) == 0 {
		return nil
	}
	return []fault{{
		text: fmt.Sprintf("side %s: %s are not numbered from the top down: who names a row by its number, or types it from the paper, would mean another one", s.Name, rowsSaid(bad)),
		side: s.Name, fields: s.bibsOf(bad),
	}}
}

func (s *Side) bibsOf(rows map[int]bool) []string {
	var names []string
	for _, f := range s.Fields {
		if f.Part == PartBib && rows[f.Row] {
			names = append(names, f.Name)
		}
	}
	return names
}
