package trouble

import (
	"fmt"
	"math/rand/v2"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// What a comb of another make may measure. A net that learned from these is asked of no others.
const (
	FewestBoxes = 2
	MostBoxes   = 4
	BoxNarrow   = sheetmodel.MM(4.8) // a box
	BoxWide     = sheetmodel.MM(9.2)
	CombLow     = sheetmodel.MM(6.2)
	CombHigh    = sheetmodel.MM(12)
	CombSlender = sheetmodel.MM(2.1) // its height is at most so many boxes' widths: a Comb shows no more
)

// NewForms draws n forms of no make at all, from their seeds first, first+1 and so on, to write on in place of the gate
// card: tables and lone boxes, wide and narrow, thin lines and thick, printed well and badly.
func NewForms(n int, first uint64) *Cards {
	c := &Cards{}
	for i := range n {
		f := &form{rng: rand.New(rand.NewPCG(first+uint64(i), 0xf0c45))}
		f.draw()
		bare := f.side
		bare.Fields = nil // their frames would be the gate card's
		paper := print.RasterBlank(&bare, inkPxPerMM)
		for _, from := range f.starts {
			c.addForm(block{side: &f.side, rows: []int{from, from + 1, from + 2}, paper: paper, where: map[string]Where{}}, f.second)
		}
	}
	return c
}

// addForm keeps a block of a form with all fields of its rows.
func (c *Cards) addForm(b block, second bool) {
	b.part = &sheetmodel.Side{Name: b.side.Name, W: b.side.W, H: b.side.H}
	for _, r := range b.rows {
		for _, f := range b.side.RowFields(r) {
			if len(b.part.Fields) == 0 {
				b.rect = f.Rect
			}
			b.rect = b.rect.Union(f.Rect)
			b.part.Fields = append(b.part.Fields, f)
			if f.Kind == sheetmodel.Comb {
				b.where[f.Name] = placeOf(f, second)
			}
		}
	}
	// What a Comb shows beside two boxes, and above low ones.
	x0, y0 := max(b.rect.X-1.5*BoxWide, 0), max(b.rect.Y-6, 0)
	x1, y1 := min(b.rect.X+b.rect.W+1.5*BoxWide, b.side.W), min(b.rect.Y+b.rect.H+6, b.side.H)
	b.rect = sheetmodel.Rect{X: x0, Y: y0, W: x1 - x0, H: y1 - y0}
	c.blocks = append(c.blocks, b)
}

// form is one being drawn.
type form struct {
	rng    *rand.Rand
	side   sheetmodel.Side
	second bool
	starts []int // rows that blocks begin with

	pen, grey     float64 // of its lines, mm and 0 to 1
	inner, pale   float64 // of those between boxes
	dividers      int     // one of the ways below
	table         bool    // fields touch each other
	boxes         int     // of the bib
	boxW, high    sheetmodel.MM
	pitch, apart  sheetmodel.MM
	options       int
	letters, line bool // in the boxes to tick; below cells instead of a frame
}

// How boxes of a comb are told apart.
const (
	wholeLines = iota
	dashedLines
	shortLines // from below, half as high
)

func (f *form) between(lo, hi float64) sheetmodel.MM {
	return sheetmodel.MM(lo + (hi-lo)*f.rng.Float64())
}

func (f *form) chance(p float64) bool { return f.rng.Float64() < p }

// draw draws the form's style, and then as many rows of it as there is room for.
func (f *form) draw() {
	papers := [][2]sheetmodel.MM{{210, 297}, {210, 297}, {148, 210}, {210, 148}, {216, 279}, {140, 216}}
	p := papers[f.rng.IntN(len(papers))]
	f.side = sheetmodel.Side{Name: sheetmodel.Front, W: p[0], H: p[1]}
	f.pen, f.grey = 0.15+0.35*f.rng.Float64(), 0.5*f.rng.Float64()
	f.inner, f.pale = f.pen, f.grey
	if f.chance(0.4) {
		f.inner, f.pale = f.pen*(0.5+0.5*f.rng.Float64()), f.grey+(0.7-f.grey)*f.rng.Float64()
	}
	if f.chance(0.25) {
		f.dividers = 1 + f.rng.IntN(2)
	}
	f.table, f.second = f.chance(0.65), f.chance(0.3)
	f.boxes = []int{3, 3, 3, 3, 3, FewestBoxes, MostBoxes}[f.rng.IntN(7)]
	f.boxW = f.between(float64(BoxNarrow), float64(BoxWide))
	f.high = f.between(float64(CombLow), float64(min(CombHigh, CombSlender*f.boxW)))
	f.pitch = f.high
	if !f.table {
		f.apart = f.between(0.8, 5)
		f.pitch += f.between(0.8, 4)
	}
	f.options, f.letters, f.line = 2+f.rng.IntN(3), f.chance(0.5), f.chance(0.3)
	order := f.columns()
	x, y := f.between(5, 20), f.between(28, 45)
	rows := min(int((f.side.H-12-y)/f.pitch), 24)
	for first := 1; ; {
		wide := f.tableAt(order, first, rows, x, y)
		if wide == 0 {
			if len(f.starts) > 0 || len(order) == 1 {
				return
			}
			order = order[:len(order)-1] // too wide for the paper
			continue
		}
		for range 3 {
			f.starts = append(f.starts, first+f.rng.IntN(max(1, rows-blockRows+1)))
		}
		x += wide + f.between(3, 12)
		first += rows
	}
}

// columns says what a row has, from left to right; "" is its printed number.
func (f *form) columns() []sheetmodel.Part {
	order := []sheetmodel.Part{sheetmodel.PartBib}
	if f.second {
		order = append(order, sheetmodel.PartBibAgain)
	}
	if f.chance(0.8) {
		order = append(order, sheetmodel.PartGate)
	}
	if f.chance(0.8) {
		order = append(order, sheetmodel.PartCode)
	}
	if f.chance(0.3) {
		f.rng.Shuffle(len(order), func(i, j int) { order[i], order[j] = order[j], order[i] })
	}
	if f.chance(0.6) {
		order = append([]sheetmodel.Part{""}, order...)
	}
	return order
}

// tableAt draws rows from first on at x, y and returns their width, or nothing where there is no room.
func (f *form) tableAt(order []sheetmodel.Part, first, rows int, x, y sheetmodel.MM) sheetmodel.MM {
	gateBoxes, codeKind := 2*f.rng.IntN(2), []sheetmodel.Kind{sheetmodel.Choice, sheetmodel.Choice, sheetmodel.Cell}[f.rng.IntN(3)]
	if gateBoxes > 0 && f.chance(0.2) {
		gateBoxes = 3
	}
	tick := min(f.high-1.2, f.between(3.6, 5.5))
	width := map[sheetmodel.Part]sheetmodel.MM{
		"": 8, sheetmodel.PartBib: f.boxW * sheetmodel.MM(f.boxes), sheetmodel.PartBibAgain: f.boxW * sheetmodel.MM(f.boxes),
		sheetmodel.PartGate: f.between(11, 20), sheetmodel.PartCode: f.between(9, 18),
	}
	if gateBoxes > 0 {
		width[sheetmodel.PartGate] = f.boxW * sheetmodel.MM(gateBoxes)
	}
	if codeKind == sheetmodel.Choice {
		width[sheetmodel.PartCode] = sheetmodel.MM(f.options)*(tick+1) + 2
	}
	all := sheetmodel.MM(0)
	for _, p := range order {
		all += width[p] + f.apart
	}
	if x+all > f.side.W-4 || rows < blockRows {
		return 0
	}
	for n := range rows {
		at := x
		top := y + f.pitch*sheetmodel.MM(n)
		for _, p := range order {
			r := sheetmodel.Rect{X: at, Y: top, W: width[p], H: f.high}
			at += r.W + f.apart
			one := sheetmodel.Field{Name: fmt.Sprintf("row-%02d.%s", first+n, p), Part: p, Kind: sheetmodel.Cell, Rect: r, Row: first + n}
			boxes := map[sheetmodel.Part]int{sheetmodel.PartBib: f.boxes, sheetmodel.PartBibAgain: f.boxes, sheetmodel.PartGate: gateBoxes}[p]
			switch {
			case p == "":
				f.number(first+n, r)
				continue
			case boxes > 0:
				one.Kind, one.Boxes = sheetmodel.Comb, boxes
				f.comb(r, boxes)
			case p == sheetmodel.PartCode && codeKind == sheetmodel.Choice:
				one.Kind, one.Options = codeKind, f.choice(r, tick)
			case f.line && !f.table:
				f.stroke(r.X, r.Y+r.H, r.X+r.W, r.Y+r.H, f.pen, f.grey)
			default:
				f.frame(r)
			}
			f.side.Fields = append(f.side.Fields, one)
		}
	}
	for i, word := range []string{"No", "Gate", "Why"} {
		f.side.Print = append(f.side.Print, sheetmodel.PrintItem{Text: word, At: sheetmodel.SheetPoint{X: x + sheetmodel.MM(i)*all/3, Y: y - 1.5}, Size: 2})
	}
	return all
}

func (f *form) frame(r sheetmodel.Rect) {
	f.side.Print = append(f.side.Print, sheetmodel.PrintItem{Box: &r, Width: sheetmodel.MM(f.pen), Grey: f.grey})
}

func (f *form) stroke(x0, y0, x1, y1 sheetmodel.MM, width, grey float64) {
	f.side.Print = append(f.side.Print, sheetmodel.PrintItem{
		Line: []sheetmodel.SheetPoint{{X: x0, Y: y0}, {X: x1, Y: y1}}, Width: sheetmodel.MM(width), Grey: grey,
	})
}

// comb draws a comb's frame and what stands between its boxes.
func (f *form) comb(r sheetmodel.Rect, boxes int) {
	f.frame(r)
	for i := 1; i < boxes; i++ {
		x := r.X + r.W*sheetmodel.MM(i)/sheetmodel.MM(boxes)
		switch f.dividers {
		case dashedLines:
			for y := r.Y; y < r.Y+r.H; y += 1.6 {
				f.stroke(x, y, x, min(y+0.9, r.Y+r.H), f.inner, f.pale)
			}
		case shortLines:
			f.stroke(x, r.Y+r.H/2, x, r.Y+r.H, f.inner, f.pale)
		default:
			f.stroke(x, r.Y, x, r.Y+r.H, f.inner, f.pale)
		}
	}
}

// choice draws boxes to tick side by side, in a table inside a frame.
func (f *form) choice(r sheetmodel.Rect, tick sheetmodel.MM) []sheetmodel.Option {
	if f.table {
		f.frame(r)
	}
	var out []sheetmodel.Option
	for i := range f.options {
		box := sheetmodel.Rect{X: r.X + 1.5 + sheetmodel.MM(i)*(tick+1), Y: r.Y + (r.H-tick)/2, W: tick, H: tick}
		letter := string(rune('F' + 3*i))
		f.frame(box)
		if f.letters {
			f.side.Print = append(f.side.Print, sheetmodel.PrintItem{Text: letter, At: sheetmodel.SheetPoint{X: box.X + tick/2 - 0.6, Y: box.Y + 0.7*tick}, Size: 0.4 * tick, Grey: 0.5})
		}
		out = append(out, sheetmodel.Option{Value: letter, Rect: box})
	}
	return out
}

// number prints a row's number.
func (f *form) number(n int, r sheetmodel.Rect) {
	if f.table {
		f.frame(r)
	}
	f.side.Print = append(f.side.Print, sheetmodel.PrintItem{
		Text: fmt.Sprint(n), At: sheetmodel.SheetPoint{X: r.X + 2, Y: r.Y + r.H/2 + 1}, Size: f.between(1.8, 2.8), Grey: f.grey,
	})
}

// queryReach is how far a question mark behind a comb may reach, mm.
const queryReach = 9.0

// reach leaves out the combs that a question mark behind another of their row may have reached: what they are is hard to
// say. On the gate card only second boxes stand so near.
func (w *writing) reach(questioned sheetmodel.Field) {
	if w.panel != "" {
		return
	}
	end := questioned.Rect.X + questioned.Rect.W
	for _, f := range w.part.Fields {
		if _, comb := w.where[f.Name]; comb && f.Row == questioned.Row && f.Rect.X >= end-1 && f.Rect.X < end+queryReach {
			w.reached[f.Name] = true
		}
	}
}
