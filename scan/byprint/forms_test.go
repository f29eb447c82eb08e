package byprint_test

import (
	"fmt"

	"gatefold/sheetmodel"
)

// Three blank forms as clubs draw them, of our own making: no marks, no machine-readable identity.

func text(x, y, size sheetmodel.MM, s string, bold bool) sheetmodel.PrintItem {
	return sheetmodel.PrintItem{Text: s, At: sheetmodel.SheetPoint{X: x, Y: y}, Size: size, Bold: bold}
}

func line(x0, y0, x1, y1, w sheetmodel.MM) sheetmodel.PrintItem {
	return sheetmodel.PrintItem{Line: []sheetmodel.SheetPoint{{X: x0, Y: y0}, {X: x1, Y: y1}}, Width: w}
}

func box(r sheetmodel.Rect, w sheetmodel.MM) sheetmodel.PrintItem {
	return sheetmodel.PrintItem{Box: &r, Width: w}
}

func cell(name string, r sheetmodel.Rect, row int) sheetmodel.Field {
	return sheetmodel.Field{Name: name, Part: "row", Kind: sheetmodel.Printed, Rect: r, Row: row}
}

func formOf(name string, w, h sheetmodel.MM, fields []sheetmodel.Field, print []sheetmodel.PrintItem) *sheetmodel.Layout {
	return &sheetmodel.Layout{Format: 1, Name: name, Sides: []sheetmodel.Side{{Name: sheetmodel.Front, W: w, H: h, Fields: fields, Print: print}}}
}

// plainTable is a title, a line for the judge, and a ruled table of 12 rows, A5.
func plainTable() *sheetmodel.Layout {
	const w, h = 148, 210
	print := []sheetmodel.PrintItem{
		text(14, 18, 5, "Gate judge's list", true), text(14, 29, 2.6, "Section", false), line(30, 29, 75, 29, 0.2),
		text(80, 29, 2.6, "Name", false), line(94, 29, 136, 29, 0.2),
		text(14, 202, 2.2, "Hand in at the finish right after the last racer. Sign here:", false), line(92, 202, 136, 202, 0.2),
	}
	xs := []sheetmodel.MM{12, 22, 48, 72, 136}
	const top, head, pitch, rows = 36, 8, 12.8, 12
	for i, s := range []string{"No.", "Start number", "Gate", "What was seen"} {
		print = append(print, text(xs[i]+1.5, top+5.5, 2.4, s, true))
	}
	foot := sheetmodel.MM(top + head + rows*pitch)
	for _, x := range xs {
		print = append(print, line(x, top, x, foot, 0.25))
	}
	print = append(print, line(12, top, 136, top, 0.4))
	var fields []sheetmodel.Field
	for r := range rows + 1 {
		y := top + head + sheetmodel.MM(r)*pitch
		print = append(print, line(12, y, 136, y, 0.25))
		if r == rows {
			break
		}
		print = append(print, text(14, y+8, 2.6, fmt.Sprint(r+1), false))
		for i, name := range []string{"bib", "gate", "what"} {
			fields = append(fields, cell(fmt.Sprintf("%s.%d", name, r+1), sheetmodel.Rect{X: xs[i+1], Y: y, W: xs[i+2] - xs[i+1], H: pitch}, r+1))
		}
	}
	return formOf("plain table", w, h, fields, print)
}

// twoColumns is a dense form: two blocks of 20 rows side by side, small print above and below, A5.
func twoColumns() *sheetmodel.Layout {
	const w, h = 148, 210
	print := []sheetmodel.PrintItem{
		text(10, 14, 3.6, "PASSAGE SHEET", true), text(62, 14, 2.2, "one sheet a run; tick each racer who passes rightly", false),
		text(10, 22, 2.2, "Race day", false), line(24, 22, 52, 22, 0.2), text(56, 22, 2.2, "Run", false), line(63, 22, 76, 22, 0.2),
		text(80, 22, 2.2, "Gates from", false), line(97, 22, 112, 22, 0.2), text(115, 22, 2.2, "to", false), line(120, 22, 138, 22, 0.2),
		text(10, 198, 2, "F fell and went on   M missed a gate   S straddled   H hindered by another   ? not sure, ask me", false),
		text(10, 203, 2, "Write the number you read, never the one you expect. Strike a row out rather than mend it.", false),
	}
	var fields []sheetmodel.Field
	const top, head, pitch, rows = 28, 7, 7.8, 20
	for col := range 2 {
		left := sheetmodel.MM(10 + 66*col)
		xs := []sheetmodel.MM{left, left + 7, left + 26, left + 34, left + 62}
		for i, s := range []string{"", "Number", "ok", "Fault and gate"} {
			if s != "" {
				print = append(print, text(xs[i]+1, top+4.6, 2, s, true))
			}
		}
		for _, x := range xs {
			print = append(print, line(x, top, x, top+head+rows*pitch, 0.2))
		}
		print = append(print, line(left, top, left+62, top, 0.35))
		for r := range rows + 1 {
			y := top + head + sheetmodel.MM(r)*pitch
			print = append(print, line(left, y, left+62, y, 0.2))
			if r == rows {
				break
			}
			n := col*rows + r + 1
			print = append(print, text(left+1, y+5.2, 2, fmt.Sprint(n), false))
			for i, name := range []string{"bib", "ok", "fault"} {
				fields = append(fields, cell(fmt.Sprintf("%s.%d", name, n), sheetmodel.Rect{X: xs[i+1], Y: y, W: xs[i+2] - xs[i+1], H: pitch}, n))
			}
		}
	}
	return formOf("two columns", w, h, fields, print)
}

// withPicture is a landscape form with a picture in its corner: a hill with poles, grey and black.
func withPicture() *sheetmodel.Layout {
	const w, h = 190, 130
	at := func(x, y sheetmodel.MM) sheetmodel.SheetPoint { return sheetmodel.SheetPoint{X: x, Y: y} }
	sky := sheetmodel.Rect{X: 146, Y: 8, W: 36, H: 30}
	print := []sheetmodel.PrintItem{
		{Box: &sky, Width: 0.3, Fill: 0.15},
		{Poly: []sheetmodel.SheetPoint{at(146, 38), at(156, 20), at(161, 25), at(170, 11), at(182, 30), at(182, 38)}},
		text(10, 16, 4.4, "Slope watch", true), text(10, 24, 2.4, "Club children's cup. For the jury at the finish.", false),
		text(10, 33, 2.4, "Watcher", false), line(26, 33, 80, 33, 0.2), text(84, 33, 2.4, "Poles", false), line(95, 33, 140, 33, 0.2),
		text(10, 125, 2, "Draw the line the racer took; say what you saw, not what you think. Thank you for standing in the cold.", false),
	}
	for i := range 4 {
		x := sheetmodel.MM(151 + 7*i)
		print = append(print, line(x, 12+sheetmodel.MM(i%2)*4, x, 20+sheetmodel.MM(i%2)*4, 0.5))
	}
	var fields []sheetmodel.Field
	const top, pitch, rows = 42, 15.4, 5
	xs := []sheetmodel.MM{10, 38, 62, 118, 182}
	for i, s := range []string{"Bib", "Pole", "What happened", "Drawing"} {
		print = append(print, text(xs[i]+1, top-1.2, 2.2, s, true))
	}
	for r := range rows {
		y := top + sheetmodel.MM(r)*pitch
		for i, name := range []string{"bib", "pole", "what", "drawing"} {
			cellBox := sheetmodel.Rect{X: xs[i], Y: y, W: xs[i+1] - xs[i] - 1.5, H: pitch - 1.5}
			print = append(print, box(cellBox, 0.3))
			fields = append(fields, cell(fmt.Sprintf("%s.%d", name, r+1), cellBox, r+1))
		}
	}
	return formOf("with picture", w, h, fields, print)
}
