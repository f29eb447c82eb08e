package sheetmodel

// What a card's rows say of each other: bibs that are missing, printed twice or another row's, and columns that some rows lack.

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
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
			if len(rows) < 2 {
				continue
			}
			most := slices.MaxFunc(slices.Sorted(maps.Keys(rows)), func(a, b int) int { return len(rows[a]) - len(rows[b]) })
			for _, n := range slices.Sorted(maps.Keys(rows)) {
				if n == most {
					continue
				}
				have, those := "has", "has"
				if len(rows[n]) > 1 {
					have = "have"
				}
				if len(rows[most]) > 1 {
					those = "have"
				}
				boxes := "boxes"
				if n == 1 {
					boxes = "box"
				}
				found = append(found, l.atRows(rows[n], fmt.Sprintf("%s %s %d %s for %s; %s, as wide, %s %d. Count them on the card",
					rowsSaid(rows[n]), have, n, boxes, s.Fields[k].Part, rowsSaid(rows[most]), those, most),
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
