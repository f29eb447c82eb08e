package sheetmodel

import "fmt"

// Where the box of a code option lies in its cell: the code's letter stands above it in every row,
// so that nobody has to look up to the head with a racer coming.
const (
	codeBoxTop    MM = 2.9
	codeBoxBottom MM = 0.5
	codeBoxSide   MM = 0.4
	codeBoxWidest MM = 9 // with few codes the boxes stay boxes
	panelBoxEdge  MM = 0.3
	tickBoxSide   MM = 0.2
	tickBoxTop    MM = 1.7
)

// table expands the first variant that holds into fields, heads, example and row lines.
func (b *binder) table(t tableTemplate) error {
	var columns []columnTemplate
	for _, v := range t.Variants {
		if b.holds(v.When) {
			columns = v.Columns
			break
		}
	}
	if columns == nil {
		return fmt.Errorf("table %s: no variant for %v; a second writing has room for bibs of 3 boxes only", t.Name, b.conditions)
	}
	row := 0
	for _, block := range t.Blocks {
		for i := range block.Rows {
			row++
			y := block.Y + MM(i)*t.Pitch
			b.rule(t, y)
			for _, c := range columns {
				if err := b.rowField(t, c, row, y); err != nil {
					return fmt.Errorf("table %s: %w", t.Name, err)
				}
			}
		}
		b.rule(t, block.Y+MM(block.Rows)*t.Pitch)
	}
	for _, c := range columns {
		if err := b.head(t, c); err != nil {
			return fmt.Errorf("table %s: %w", t.Name, err)
		}
		b.example(t, c)
	}
	return nil
}

func (b *binder) rule(t tableTemplate, y MM) {
	b.print(PrintItem{Line: []SheetPoint{{X: t.X, Y: y}, {X: t.X + t.W, Y: y}}, Width: 0.2, Grey: 0.4})
}

func (b *binder) rowField(t tableTemplate, c columnTemplate, row int, y MM) error {
	cell := Rect{X: t.X + c.X, Y: y, W: c.W, H: t.Pitch}
	if c.Part == "number" {
		const size = 2.4
		b.print(PrintItem{
			Text: fmt.Sprint(row), At: SheetPoint{X: cell.Center().X, Y: cell.Center().Y + size/2},
			Size: size, Bold: true, Align: AlignCenter,
		})
		return nil
	}
	f := Field{
		Name: fmt.Sprintf("%s-%02d.%s", t.Name, row, c.Part), Part: c.Part, Kind: c.Kind,
		Grammar: c.Grammar, Row: row, Boxes: c.Boxes,
	}
	switch {
	case c.Options == "codes":
		options, err := b.codeOptions(cell)
		if err != nil {
			return err
		}
		f.Options = options
	case c.Options == "panels":
		f.Options = b.panelOptions(cell, c.PerLine)
	case c.Options != "":
		return fmt.Errorf("column %s: unknown options %q", c.Part, c.Options)
	case c.Kind == Tick:
		cell = Rect{X: cell.X + tickBoxSide, Y: cell.Y + tickBoxTop, W: cell.W - 2*tickBoxSide, H: cell.H - 2*tickBoxTop}
	}
	f.Rect = b.place(cell)
	b.side.Fields = append(b.side.Fields, f)
	return nil
}

// tickCodes returns the codes that have a box in each row.
func (b *binder) tickCodes() []Code {
	var codes []Code
	for _, c := range b.options.Codes.Codes {
		if c.Tick {
			codes = append(codes, c)
		}
	}
	return codes
}

// codeCells splits the column of codes evenly.
func (b *binder) codeCells(x, w MM) ([]Code, []Rect, error) {
	codes := b.tickCodes()
	if len(codes) == 0 || len(codes) > MaxTickCodes {
		return nil, nil, fmt.Errorf("code book %s: %d codes have tick: true, a row has room for 1 to %d; write the others",
			b.options.Codes.Name, len(codes), MaxTickCodes)
	}
	width := min(w/MM(len(codes)), codeBoxWidest)
	cells := make([]Rect, len(codes))
	for i := range codes {
		cells[i] = Rect{X: x + MM(i)*width, W: width}
	}
	return codes, cells, nil
}

func (b *binder) codeOptions(cell Rect) ([]Option, error) {
	codes, cells, err := b.codeCells(cell.X, cell.W)
	if err != nil {
		return nil, err
	}
	var options []Option
	for i, c := range codes {
		box := Rect{
			X: cells[i].X + codeBoxSide, Y: cell.Y + codeBoxTop,
			W: cells[i].W - 2*codeBoxSide, H: cell.H - codeBoxTop - codeBoxBottom,
		}
		options = append(options, Option{Value: c.Code, Label: c.Word, Rect: b.place(box)})
		b.print(PrintItem{
			Text: c.Code, At: SheetPoint{X: box.Center().X, Y: cell.Y + 2.4}, Size: 1.7, Bold: true, Align: AlignCenter,
		})
	}
	return options, nil
}

// panelOptions are small boxes with the panel's letter inside, pale so that a tick over it shows.
func (b *binder) panelOptions(cell Rect, perLine int) []Option {
	var letters []string
	for _, st := range b.template.Sides {
		if st.Panels != nil {
			letters = append(letters, st.Panels.withStrip()...)
		}
	}
	perLine = max(perLine, 1)
	lines := max((len(letters)+perLine-1)/perLine, 1)
	w, h := cell.W/MM(perLine), cell.H/MM(lines)
	var options []Option
	for i, letter := range letters {
		box := Rect{X: cell.X + MM(i%perLine)*w, Y: cell.Y + MM(i/perLine)*h, W: w, H: h}.Grow(-panelBoxEdge)
		options = append(options, Option{Value: letter, Label: letter, Rect: b.place(box)})
		const size = 1.7
		b.print(PrintItem{
			Text: letter, At: SheetPoint{X: box.Center().X, Y: box.Center().Y + size/2}, Size: size, Grey: 0.55, Align: AlignCenter,
		})
	}
	return options
}

func (b *binder) head(t tableTemplate, c columnTemplate) error {
	x := t.X + c.X
	if c.Options == "codes" {
		codes, cells, err := b.codeCells(x, c.W)
		if err != nil {
			return err
		}
		words, size := make([][]string, len(codes)), turnedLargest
		for i, code := range codes {
			words[i] = []string{code.Word}
			if turnedSize(words[i], t.Head) < turnedLargest {
				words[i] = splitWord(code.Word, Regular)
			}
			if size = min(size, turnedSize(words[i], t.Head)); size < turnedSmallest {
				return fmt.Errorf("code %s: word %q is too long for the head of its column; shorten it", code.Code, code.Word)
			}
		}
		for i := range codes {
			b.turnedWord(words[i], cells[i].Center().X, size, t.Head)
		}
		return nil
	}
	if c.Turned {
		b.turnedWord(c.Head, x+c.W/2, min(turnedLargest, turnedSize(c.Head, t.Head)), t.Head)
		return nil
	}
	if c.Hint != "" {
		at := SheetPoint{X: x + c.W/2, Y: t.Head.Y + t.Head.H - 1.6 - MM(len(c.Head))*2.8}
		b.print(PrintItem{Text: c.Hint, At: at, Size: 1.6, Align: AlignCenter, Room: c.W + 1})
	}
	for i, s := range c.Head {
		size := MM(2.2)
		for size > 1.6 && TextWidth(s, Bold, size) > c.W {
			size -= 0.1
		}
		y := t.Head.Y + t.Head.H - 1 - MM(len(c.Head)-1-i)*2.8
		b.print(PrintItem{Text: s, At: SheetPoint{X: x + c.W/2, Y: y}, Size: size, Bold: true, Align: AlignCenter})
	}
	return nil
}

// example prints one filled row in pale slanted type: no hand writes so, and no field lies under it.
func (b *binder) example(t tableTemplate, c columnTemplate) {
	if c.Example == "" {
		return
	}
	const pale, size = 0.45, 2.2
	x, y := t.X+c.X, t.Example.Y+t.Example.H/2+size/2
	word := func(s string, cx, size MM) {
		b.print(PrintItem{Text: s, At: SheetPoint{X: cx, Y: y}, Size: size, Italic: true, Grey: pale, Align: AlignCenter})
	}
	switch {
	case c.Kind == Comb:
		for i, r := range []rune(c.Example) {
			word(string(r), Rect{X: x, W: c.W}.Box(i, c.Boxes).Center().X, size)
		}
	case c.Options == "codes":
		if _, cells, err := b.codeCells(x, c.W); err == nil {
			word(c.Example, cells[0].Center().X, size)
		}
	case c.Part == "number":
		word(c.Example, x+c.W/2, 1.6)
	default:
		word(c.Example, x+c.W/2, size)
	}
}
