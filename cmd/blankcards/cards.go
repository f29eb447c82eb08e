package main

import (
	"fmt"

	"gatefold/sheetmodel"
)

// card is one blank card being drawn.
type card struct {
	name  string
	style sheetmodel.Style
	w, h  sheetmodel.MM
	look  look
	pdf   bool
	draw  func(*pen)
}

func (c card) layout() *sheetmodel.Layout {
	p := &pen{side: sheetmodel.Side{Name: sheetmodel.Front, W: c.w, H: c.h, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}}
	c.draw(p)
	return &sheetmodel.Layout{Format: 1, Name: c.name, Version: 1, Style: c.style, Sides: []sheetmodel.Side{p.side}}
}

// pen draws lines and words, and notes what is to be filled.
type pen struct {
	side  sheetmodel.Side
	width sheetmodel.MM
}

func (p *pen) word(x, y, size sheetmodel.MM, text string) {
	p.side.Print = append(p.side.Print, sheetmodel.PrintItem{Text: text, At: sheetmodel.SheetPoint{X: x, Y: y}, Size: size})
}

func (p *pen) bold(x, y, size sheetmodel.MM, text string) {
	p.word(x, y, size, text)
	p.side.Print[len(p.side.Print)-1].Bold = true
}

func (p *pen) middle(x, y, size sheetmodel.MM, text string) {
	p.word(x, y, size, text)
	p.side.Print[len(p.side.Print)-1].Align = sheetmodel.AlignCenter
}

func (p *pen) line(x0, y0, x1, y1 sheetmodel.MM) {
	p.side.Print = append(p.side.Print, sheetmodel.PrintItem{
		Line: []sheetmodel.SheetPoint{{X: x0, Y: y0}, {X: x1, Y: y1}}, Width: max(p.width, 0.2),
	})
}

func (p *pen) box(x, y, w, h sheetmodel.MM) sheetmodel.Rect {
	r := sheetmodel.Rect{X: x, Y: y, W: w, H: h}
	p.side.Print = append(p.side.Print, sheetmodel.PrintItem{Box: &r, Width: max(p.width, 0.2)})
	return r
}

func (p *pen) field(f sheetmodel.Field) { p.side.Fields = append(p.side.Fields, f) }

// text is a line to write on: words before it, the line, and 7 mm above it.
func (p *pen) text(name string, part sheetmodel.Part, label string, x, y, from, to sheetmodel.MM) {
	p.word(x, y, 2.4, label)
	p.line(from, y, to, y)
	f := sheetmodel.Field{Name: name, Part: part, Kind: sheetmodel.Text, Rect: sheetmodel.Rect{X: from, Y: y - 7, W: to - from, H: 7}, Grammar: sheetmodel.GrammarFree}
	switch part {
	case sheetmodel.PartRemark: // kept as a picture
		f.Kind, f.Grammar = sheetmodel.Drawing, sheetmodel.GrammarDrawing
	case sheetmodel.PartGateFrom, sheetmodel.PartGateTo:
		f.Kind, f.Grammar = sheetmodel.Cell, sheetmodel.GrammarGate
	default:
	}
	p.field(f)
}

// boxed is a box to write in, its word before it.
func (p *pen) boxed(name string, part sheetmodel.Part, kind sheetmodel.Kind, g sheetmodel.Grammar, label string, x float64, r sheetmodel.Rect) {
	p.word(sheetmodel.MM(x), r.Y+r.H-2, 2.4, label)
	p.box(r.X, r.Y, r.W, r.H)
	p.field(sheetmodel.Field{Name: name, Part: part, Kind: kind, Rect: r, Grammar: g})
}

// comb is boxes of w × h mm that touch.
func (p *pen) comb(f sheetmodel.Field, x, y, w, h sheetmodel.MM, n int) {
	for i := range n {
		p.box(x+sheetmodel.MM(i)*w, y, w, h)
	}
	f.Kind, f.Boxes, f.Rect = sheetmodel.Comb, n, sheetmodel.Rect{X: x, Y: y, W: w * sheetmodel.MM(n), H: h}
	p.field(f)
}

// ticks is a row of boxes that touch, one for each code.
func (p *pen) ticks(f sheetmodel.Field, x, y, w, h sheetmodel.MM, codes []string) {
	f.Kind, f.Grammar, f.Rect = sheetmodel.Choice, sheetmodel.GrammarWord, sheetmodel.Rect{X: x, Y: y, W: w * sheetmodel.MM(len(codes)), H: h}
	for i, c := range codes {
		f.Options = append(f.Options, sheetmodel.Option{Value: c, Label: c, Rect: p.box(x+sheetmodel.MM(i)*w, y, w, h)})
	}
	p.field(f)
}

func row(n int, part sheetmodel.Part, g sheetmodel.Grammar) sheetmodel.Field {
	f := sheetmodel.Field{Name: fmt.Sprintf("row-%02d.%s", n, part), Part: part, Kind: sheetmodel.Cell, Row: n, Grammar: g}
	if part == sheetmodel.PartRemark {
		f.Kind, f.Grammar = sheetmodel.Drawing, sheetmodel.GrammarDrawing
	}
	return f
}

func cards() []card {
	return []card{
		{name: "plain-table", style: sheetmodel.FaultOnly, w: 148, h: 210, draw: plainTable, pdf: true},
		{name: "dense-columns", style: sheetmodel.FaultOnly, w: 210, h: 297, draw: denseColumns, look: look{turnDeg: 0.4, black: 45, paper: 240, grain: 2}},
		{name: "every-racer", style: sheetmodel.EveryRacer, w: 210, h: 297, draw: everyRacer, look: look{turnDeg: -0.6, black: 60, paper: 236, grain: 2}},
		{name: "landscape", style: sheetmodel.FaultOnly, w: 210, h: 148, draw: landscape, look: look{turnDeg: 0.9, black: 30, paper: 246, grain: 2}},
		{name: "photocopy", style: sheetmodel.FaultOnly, w: 139.7, h: 215.9, draw: photocopy, look: look{turnDeg: -0.8, black: 168, paper: 228, grain: 3, generations: 2}},
	}
}

// plainTable is what an office program makes in ten minutes: lines for names, one ruled table.
func plainTable(p *pen) {
	p.bold(14, 18, 4.6, "Faults seen at the gates")
	p.word(14, 24, 2.2, "One line for each fault. Not sure of the number: no line, but tell the chief.")
	p.text("header.judge", sheetmodel.PartJudge, "Name of judge", 14, 36, 40, 92)
	p.text("header.phone", sheetmodel.PartPhone, "Phone", 96, 36, 108, 136)
	p.text("header.date", sheetmodel.PartDate, "Date", 14, 47, 24, 56)
	p.boxed("header.gate-from", sheetmodel.PartGateFrom, sheetmodel.Cell, sheetmodel.GrammarGate, "Gates from", 60, sheetmodel.Rect{X: 82, Y: 40, W: 13, H: 9})
	p.boxed("header.gate-to", sheetmodel.PartGateTo, sheetmodel.Cell, sheetmodel.GrammarGate, "to", 98, sheetmodel.Rect{X: 104, Y: 40, W: 13, H: 9})
	xs := []sheetmodel.MM{12, 22, 46, 66, 90, 136}
	const top, head, pitch, rows = 56, 8, 11, 12
	for i, s := range []string{"", "Bib", "Gate", "Fault", "Remarks"} {
		p.bold(xs[i]+1.5, top+5.5, 2.4, s)
	}
	for _, x := range xs {
		p.line(x, top, x, top+head+rows*pitch)
	}
	p.line(12, top, 136, top)
	for r := range rows + 1 {
		y := top + head + sheetmodel.MM(r)*pitch
		p.line(12, y, 136, y)
		if r == rows {
			break
		}
		p.word(14.5, y+7, 2.4, fmt.Sprint(r+1))
		for i, f := range []sheetmodel.Field{
			row(r+1, sheetmodel.PartBib, sheetmodel.GrammarBib), row(r+1, sheetmodel.PartGate, sheetmodel.GrammarGate),
			row(r+1, sheetmodel.PartCode, sheetmodel.GrammarCode), row(r+1, sheetmodel.PartRemark, sheetmodel.GrammarFree),
		} {
			f.Rect = sheetmodel.Rect{X: xs[i+1], Y: y, W: xs[i+2] - xs[i+1], H: pitch}
			p.field(f)
		}
	}
}

// denseColumns is two tables side by side on A4: a comb, a gate, four boxes to tick under letters, a lone box.
func denseColumns(p *pen) {
	p.width = 0.25
	p.bold(10, 16, 4, "GATE CONTROL")
	p.word(60, 16, 2, "F fell and went on    M missed the gate    S straddled it    H was hindered")
	p.text("header.judge", sheetmodel.PartJudge, "Judge", 10, 29, 22, 70)
	p.text("header.phone", sheetmodel.PartPhone, "Mobile", 74, 29, 87, 120)
	p.boxed("header.run", sheetmodel.PartRun, sheetmodel.Cell, sheetmodel.GrammarCount, "Run", 124, sheetmodel.Rect{X: 132, Y: 21, W: 9, H: 9})
	p.boxed("header.gate-from", sheetmodel.PartGateFrom, sheetmodel.Cell, sheetmodel.GrammarGate, "From gate", 145, sheetmodel.Rect{X: 163, Y: 21, W: 12, H: 9})
	p.boxed("header.gate-to", sheetmodel.PartGateTo, sheetmodel.Cell, sheetmodel.GrammarGate, "to gate", 177, sheetmodel.Rect{X: 189, Y: 21, W: 12, H: 9})
	const top, head, pitch, rows = 40, 7, 10.5, 20
	codes := []string{"F", "M", "S", "H"}
	for block := range 2 {
		x := sheetmodel.MM(10 + 97*block)
		at := []sheetmodel.MM{x, x + 8, x + 32, x + 50, x + 74}
		p.box(x, top, 8, head)
		p.box(at[1], top, 24, head)
		p.bold(at[1]+1, top+4.7, 2, "Start number")
		p.box(at[2], top, 18, head)
		p.bold(at[2]+1, top+4.7, 2, "Gate")
		for i, c := range codes {
			p.box(at[3]+sheetmodel.MM(i)*6, top, 6, head)
			p.side.Print = append(p.side.Print, sheetmodel.PrintItem{Text: c, At: sheetmodel.SheetPoint{X: at[3] + 3 + sheetmodel.MM(i)*6, Y: top + 4.7}, Size: 2.2, Bold: true, Align: sheetmodel.AlignCenter})
		}
		p.box(at[4], top, 13, head)
		p.bold(at[4]+1, top+4.7, 2, "Re-run")
		for r := range rows {
			n, y := block*rows+r+1, top+head+sheetmodel.MM(r)*pitch
			p.box(x, y, 8, pitch)
			p.middle(x+4, y+6.4, 2.2, fmt.Sprint(n))
			p.comb(row(n, sheetmodel.PartBib, sheetmodel.GrammarBib), at[1], y, 8, pitch, 3)
			gate := row(n, sheetmodel.PartGate, sheetmodel.GrammarGate)
			gate.Rect = p.box(at[2], y, 18, pitch)
			p.field(gate)
			p.box(at[3], y, 24, pitch)
			p.ticks(row(n, sheetmodel.PartCode, sheetmodel.GrammarWord), at[3], y+2.5, 6, 5.5, codes)
			p.box(at[4], y, 13, pitch)
			again := row(n, sheetmodel.PartRerun, sheetmodel.GrammarMark)
			again.Kind, again.Rect = sheetmodel.Tick, p.box(at[4]+4.2, y+2.8, 4.8, 4.8)
			p.field(again)
		}
	}
	p.word(10, 274, 2.2, "Rows in all")
	rows2 := sheetmodel.Field{Name: "header.row-count", Part: sheetmodel.PartRowCount, Grammar: sheetmodel.GrammarCount}
	p.comb(rows2, 30, 267, 8, 9, 2)
	p.text("remark-1.text", sheetmodel.PartRemark, "Remarks", 60, 276, 76, 200)
}

// everyRacer is a list of all bibs on A4, four blocks side by side: a box to tick and a space for what went wrong.
func everyRacer(p *pen) {
	p.bold(12, 17, 4.2, "Passage list")
	p.word(52, 17, 2.2, "Tick every racer who passes rightly. Anything else: write the letter and the gate.")
	p.text("header.judge", sheetmodel.PartJudge, "Judge", 12, 29, 24, 84)
	p.text("header.date", sheetmodel.PartDate, "Date", 88, 29, 97, 126)
	p.boxed("header.gate-from", sheetmodel.PartGateFrom, sheetmodel.Cell, sheetmodel.GrammarGate, "Gates from", 130, sheetmodel.Rect{X: 149, Y: 21, W: 12, H: 9})
	p.boxed("header.gate-to", sheetmodel.PartGateTo, sheetmodel.Cell, sheetmodel.GrammarGate, "to", 164, sheetmodel.Rect{X: 169, Y: 21, W: 12, H: 9})
	const top, head, pitch, rows = 36, 7, 8, 30
	for block := range 4 {
		x := sheetmodel.MM(12 + 47*block)
		widths := []sheetmodel.MM{11, 9, 24}
		at := x
		for i, s := range []string{"Bib", "ok", "Fault, gate"} {
			p.box(at, top, widths[i], head)
			p.bold(at+1, top+4.7, 2, s)
			at += widths[i]
		}
		for r := range rows {
			n, y := block*rows+r+1, top+head+sheetmodel.MM(r)*pitch
			p.box(x, y, 11, pitch)
			p.middle(x+5.5, y+5.4, 2.8, fmt.Sprint(n))
			bib := row(n, sheetmodel.PartBib, sheetmodel.GrammarBib)
			bib.Kind, bib.Rect = sheetmodel.Printed, sheetmodel.Rect{X: x, Y: y, W: 11, H: pitch}
			bib.Options = []sheetmodel.Option{{Value: fmt.Sprint(n), Label: fmt.Sprint(n), Rect: bib.Rect}}
			p.field(bib)
			p.box(x+11, y, 9, pitch)
			p.box(x+20, y, 24, pitch)
			mark := sheetmodel.Field{Name: fmt.Sprintf("row-%02d.passed", n), Part: "passed", Kind: sheetmodel.Tick, Row: n, Grammar: sheetmodel.GrammarMark, Rect: p.box(x+13, y+1.5, 5, 5)}
			p.field(mark)
			what := row(n, sheetmodel.PartCode, sheetmodel.GrammarCodeGate)
			what.Rect = sheetmodel.Rect{X: x + 20, Y: y, W: 24, H: pitch}
			p.field(what)
		}
	}
	p.text("remark-1.text", sheetmodel.PartRemark, "Notes", 12, 290, 25, 198)
}

// landscape has six rows on the left, and four lettered panels to draw into on the right.
func landscape(p *pen) {
	p.width = 0.35
	p.bold(10, 15, 4.2, "What I saw")
	p.text("header.judge", sheetmodel.PartJudge, "Watcher", 50, 16, 65, 118)
	p.text("header.phone", sheetmodel.PartPhone, "Phone", 122, 16, 134, 170)
	p.text("header.gate-from", sheetmodel.PartGateFrom, "From gate", 10, 29, 28, 46)
	p.text("header.gate-to", sheetmodel.PartGateTo, "to", 49, 29, 54, 72)
	const top, pitch, rows = 41, 14.5, 6
	xs := []sheetmodel.MM{10, 34, 54, 72, 88}
	for i, s := range []string{"Racer", "Gate", "Code", "Sketch"} {
		p.bold(xs[i]+1, top-1.6, 2.2, s)
	}
	for r := range rows {
		y := top + sheetmodel.MM(r)*pitch
		for i, f := range []sheetmodel.Field{
			row(r+1, sheetmodel.PartBib, sheetmodel.GrammarBib), row(r+1, sheetmodel.PartGate, sheetmodel.GrammarGate),
			row(r+1, sheetmodel.PartCode, sheetmodel.GrammarCode), row(r+1, sheetmodel.PartPanel, sheetmodel.GrammarPanel),
		} {
			f.Rect = p.box(xs[i], y, xs[i+1]-xs[i]-1.5, pitch-2)
			p.field(f)
		}
	}
	for i, letter := range []string{"A", "B", "C", "D"} {
		x, y := sheetmodel.MM(94+54*(i%2)), sheetmodel.MM(24+58*(i/2))
		r := p.box(x, y, 50, 46)
		p.bold(x+1.5, y+5.5, 3.6, letter)
		p.field(sheetmodel.Field{Name: "panel-" + letter + ".drawing", Part: sheetmodel.PartDrawing, Kind: sheetmodel.Drawing, Rect: r, Panel: letter, Grammar: sheetmodel.GrammarDrawing})
		p.box(x, y+46, 14, 9)
		p.word(x+1, y+52, 2.2, "Bibs")
		strip := p.box(x+14, y+46, 36, 9)
		p.field(sheetmodel.Field{Name: "panel-" + letter + ".bib", Part: sheetmodel.PartBib, Kind: sheetmodel.Cell, Rect: strip, Panel: letter, Entry: 1, Grammar: sheetmodel.GrammarBib})
	}
}

// photocopy is a half-letter card whose original nobody has any more.
func photocopy(p *pen) {
	p.width = 0.4
	p.bold(14, 20, 4.4, "Race day report")
	p.text("header.judge", sheetmodel.PartJudge, "Name", 14, 32, 26, 76)
	p.text("header.group", sheetmodel.PartGroup, "Class", 80, 32, 92, 126)
	p.boxed("header.gate-from", sheetmodel.PartGateFrom, sheetmodel.Cell, sheetmodel.GrammarGate, "Gates from", 14, sheetmodel.Rect{X: 34, Y: 38, W: 14, H: 9})
	p.boxed("header.gate-to", sheetmodel.PartGateTo, sheetmodel.Cell, sheetmodel.GrammarGate, "to", 51, sheetmodel.Rect{X: 57, Y: 38, W: 14, H: 9})
	const top, head, pitch, rows = 54, 9, 13, 10
	p.box(14, top, 27, head)
	p.bold(15.5, top+6, 2.6, "Number")
	p.box(41, top, 22, head)
	p.bold(42.5, top+6, 2.6, "Gate")
	p.box(63, top, 62, head)
	p.bold(64.5, top+6, 2.6, "What happened")
	for r := range rows {
		y := top + head + sheetmodel.MM(r)*pitch
		p.comb(row(r+1, sheetmodel.PartBib, sheetmodel.GrammarBib), 14, y, 9, pitch, 3)
		gate, what := row(r+1, sheetmodel.PartGate, sheetmodel.GrammarGate), row(r+1, sheetmodel.PartCode, sheetmodel.GrammarCode)
		gate.Rect = p.box(41, y, 22, pitch)
		what.Rect = p.box(63, y, 62, pitch)
		p.field(gate)
		p.field(what)
	}
	p.text("header.phone", sheetmodel.PartPhone, "Phone", 14, 206, 28, 80)
}
