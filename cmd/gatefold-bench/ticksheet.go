package main

import (
	"fmt"

	"gatefold/sheetmodel"
)

// denseSheet is a sheet full of the gate card's own tick boxes: the boxes of one row of the card, copied over and
// over in place of everything that is written. Marks, identities and what is printed above the rows stay, so that
// the sheet is found and straightened as a card is. Nobody else is offered it.
//
// Each box has the size, outline and letter of the card's, and its field the part that the card's has: ocr reads
// it by the same code, thresholds and curves. The fields belong to no row, as if each stood in a written row of a
// card: an empty row's hints of marks are not dropped here, and no line through a row casts doubt.
func denseSheet() (*sheetmodel.Layout, error) {
	card, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{})
	if err != nil {
		return nil, err
	}
	front := card.Side(sheetmodel.Front)
	l := &sheetmodel.Layout{Format: card.Format, Name: "dense-ticks", Version: 1, Style: card.Style, Paper: card.Paper}
	side := sheetmodel.Side{Name: front.Name, W: front.W, H: front.H, Marks: front.Marks, Identity: front.Identity}
	var columns []column
	for _, part := range denseParts {
		c, err := columnOf(front, part)
		if err != nil {
			return nil, err
		}
		columns = append(columns, c)
	}
	left := front.Marks[0].Rect.X
	const top, gap = 37.0, 1.0 // mm; below the head, and between columns, as on the card
	for _, p := range front.Print {
		if p.Text != "" && p.At.Y < 19 { // the head, above everything that is written
			side.Print = append(side.Print, p)
		}
	}
	n := 0
	for _, block := range []struct {
		y    sheetmodel.MM
		rows int
	}{{top, 7}, {125, 6}} { // the marks halfway down lie between them
		for r := range block.rows {
			x, y := left, block.y+sheetmodel.MM(r)*columns[0].pitch
			for _, c := range columns {
				n++
				f, printed := c.at(x, y, n)
				side.Fields, side.Print = append(side.Fields, f), append(side.Print, printed...)
				x += c.cell.W + gap
			}
		}
	}
	l.Sides = []sheetmodel.Side{side}
	if faults := sheetmodel.Lint(l); len(faults) > 3 { // it has no bib, no code and no gates, and says so
		return nil, fmt.Errorf("dense sheet: %v", faults)
	}
	return l, nil
}

// denseParts are the columns of the dense sheet, in the card's own proportion: how dark a plain mark is on this side is
// judged by all of them.
var denseParts = []sheetmodel.Part{
	sheetmodel.PartCode, sheetmodel.PartPanel, sheetmodel.PartRerun,
	sheetmodel.PartCode, sheetmodel.PartPanel, sheetmodel.PartRerun,
}

// column is one column of boxes of the card's first row.
type column struct {
	field sheetmodel.Field
	cell  sheetmodel.Rect // with the room that the row gives it
	print []sheetmodel.PrintItem
	pitch sheetmodel.MM
}

func columnOf(front *sheetmodel.Side, part sheetmodel.Part) (column, error) {
	var c column
	var next sheetmodel.MM
	for _, f := range front.Fields {
		if f.Part != part {
			continue
		}
		switch f.Row {
		case 1:
			c.field = f
		case 2:
			next = f.Rect.Y
		default:
		}
	}
	if c.field.Name == "" {
		return c, fmt.Errorf("dense sheet: the card has no %s in row 1", part)
	}
	c.pitch, c.cell = next-c.field.Rect.Y, c.field.Rect
	for _, p := range front.Print {
		if p.Text != "" && c.cell.Grow(0.01).Contains(p.At) {
			c.print = append(c.print, p)
		}
	}
	return c, nil
}

// at copies the column's boxes and letters to (x, y), as field n. A lone box stands lower in its row.
func (c column) at(x, y sheetmodel.MM, n int) (sheetmodel.Field, []sheetmodel.PrintItem) {
	dx, dy := x-c.cell.X, y+(c.pitch-c.cell.H)/2-c.cell.Y
	move := func(r sheetmodel.Rect) sheetmodel.Rect {
		return sheetmodel.Rect{X: round(r.X + dx), Y: round(r.Y + dy), W: r.W, H: r.H}
	}
	f := c.field
	f.Name, f.Row, f.Rect = fmt.Sprintf("ticks-%03d.%s", n, f.Part), 0, move(f.Rect)
	f.Options = nil
	for _, o := range c.field.Options {
		o.Rect = move(o.Rect)
		f.Options = append(f.Options, o)
	}
	var printed []sheetmodel.PrintItem
	for _, p := range c.print {
		p.At.X, p.At.Y = round(p.At.X+dx), round(p.At.Y+dy)
		printed = append(printed, p)
	}
	return f, printed
}

// round keeps hundredths of a mm, as all layouts do.
func round(v sheetmodel.MM) sheetmodel.MM { return sheetmodel.MM(int(v*100+0.5)) / 100 }

// boxesOf returns the boxes of a tick or a choice.
func boxesOf(f sheetmodel.Field) []sheetmodel.Rect {
	if f.Kind == sheetmodel.Tick {
		return []sheetmodel.Rect{f.Rect}
	}
	var all []sheetmodel.Rect
	for _, o := range f.Options {
		all = append(all, o.Rect)
	}
	return all
}
