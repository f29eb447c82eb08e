package trouble

import (
	"fmt"
	"image"
	"image/draw"
	"math/rand/v2"
	"strconv"
	"strings"

	"gatefold/ocr/crop"
	"gatefold/ocr/train/cells"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// Picture is what the net sees.
type Picture = crop.Comb

// The page's resolution is scan's default; strokes of 0.4 mm need 20 px/mm.
const (
	pagePxPerMM = 8.0
	inkPxPerMM  = 20.0
)

// off is a fifth of a millimetre, now and then more. Whole photos leave less (scan/report.md); pages of folded or
// curled cards more.
var off = cells.Astray{Usual: 0.12, Seldom: 0.3, Slope: 0.004}

// block is some rows of a side that are filled and photographed together.
type block struct {
	side  *sheetmodel.Side // the whole one
	rect  sheetmodel.Rect  // of it that is photographed
	part  *sheetmodel.Side // with the fields inside rect only
	rows  []int
	panel string // instead of rows
	paper *image.Gray
	where map[string]Where // the combs, by name
}

// Cards are the printed cards that samples are drawn on.
type Cards struct{ blocks []block }

// blockRows is how many rows a block has: one in the middle, with a neighbour on each side.
const blockRows = 3

// NewCards prints the gate card with one box for the bib and with two.
func NewCards() (*Cards, error) {
	c := &Cards{}
	for _, second := range []bool{false, true} {
		l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{Groups: []string{"U12 f", "U12 m"}, Courses: []string{"red", "blue"}, SecondWriting: second})
		if err != nil {
			return nil, fmt.Errorf("gate card: %w", err)
		}
		front, back := l.Side(sheetmodel.Front), l.Side(sheetmodel.Back)
		paper := print.RasterBlank(front, inkPxPerMM)
		for row := 1; row+blockRows-1 <= front.Rows(); row++ {
			rows := []int{row, row + 1, row + 2}
			c.add(block{side: front, rows: rows, paper: paper, where: map[string]Where{}}, second, sheetmodel.PartBib, sheetmodel.PartBibAgain, sheetmodel.PartCode)
			c.add(block{side: front, rows: rows, paper: paper, where: map[string]Where{}}, second, sheetmodel.PartGate, sheetmodel.PartPanel, sheetmodel.PartCodeOther)
		}
		if second {
			continue // the backs are alike
		}
		paper = print.RasterBlank(back, inkPxPerMM)
		seen := map[string]bool{}
		for _, f := range back.Fields {
			if f.Panel != "" && f.Part == sheetmodel.PartBib && !seen[f.Panel] {
				seen[f.Panel] = true
				// Twice: strips are as many as a front's rows.
				for range 2 {
					c.add(block{side: back, panel: f.Panel, paper: paper, where: map[string]Where{}}, second, sheetmodel.PartBib)
				}
			}
		}
	}
	return c, nil
}

// add keeps a block with the fields of some parts, if its side has them.
func (c *Cards) add(b block, second bool, parts ...sheetmodel.Part) {
	first := true
	b.part = &sheetmodel.Side{Name: b.side.Name, W: b.side.W, H: b.side.H, Marks: b.side.Marks}
	for _, f := range b.side.Fields {
		in := b.panel != "" && f.Panel == b.panel
		for _, r := range b.rows {
			in = in || f.Row == r && f.Panel == "" && !strings.HasPrefix(f.Name, "remark")
		}
		if !in || !has(parts, f.Part) {
			continue
		}
		b.part.Fields = append(b.part.Fields, f)
		if first {
			b.rect, first = f.Rect, false
		} else {
			b.rect = b.rect.Union(f.Rect)
		}
		if f.Kind != sheetmodel.Comb {
			continue
		}
		b.where[f.Name] = placeOf(f, second)
		if b.panel != "" {
			b.where[f.Name] = OnStrip
		}
	}
	if len(b.where) == 0 {
		return
	}
	// A box's width on each side, and half a row above and below, as far as there is paper.
	r := b.rect.Grow(9)
	x0, y0 := max(r.X, 0), max(r.Y+4, 0)
	b.rect = sheetmodel.Rect{X: x0, Y: y0, W: min(r.X+r.W, b.side.W) - x0, H: min(r.Y+r.H-4, b.side.H) - y0}
	c.blocks = append(c.blocks, b)
}

// placeOf says which comb of a row f is; second reports whether rows have two for the bib.
func placeOf(f sheetmodel.Field, second bool) Where {
	switch {
	case f.Part == sheetmodel.PartGate:
		return GateBox
	case f.Part == sheetmodel.PartBibAgain:
		return BibAgain
	case second:
		return BibFirst
	default:
		return BibAlone
	}
}

func has(parts []sheetmodel.Part, p sheetmodel.Part) bool {
	for _, q := range parts {
		if p == q {
			return true
		}
	}
	return false
}

// Options of a drawing.
type Options struct {
	Level  camera.Level
	Digits fill.Digits // of one writer
	Writer int
	Shots  int // photos of each writing, at least 1
}

// Draw lets one person fill one block, photographs it, and returns its combs. Combs that a neighbour's question mark
// may have reached are left out: what they are is hard to say.
func (c *Cards) Draw(o Options, rng *rand.Rand) ([]Sample, error) {
	b := &c.blocks[rng.IntN(len(c.blocks))]
	w := writing{
		block: b, pen: hand.DrawWriter(o.Level.Pens(), rng), digits: o.Digits, rng: rng,
		ink: hand.NewInk(b.rect.Grow(2), inkPxPerMM), kinds: map[string]Kind{}, ways: map[string]Way{}, unsure: map[string]bool{}, reached: map[string]bool{},
	}
	w.fill()
	page := image.Rect(w.ink.MinX, w.ink.MinY, w.ink.MinX+w.ink.W, w.ink.MinY+w.ink.H)
	paper := image.NewGray(page)
	draw.Draw(paper, page, image.White, image.Point{}, draw.Src)
	printed := page.Intersect(b.paper.Rect)
	draw.Draw(paper, printed, b.paper, printed.Min, draw.Src)
	w.ink.Over(paper)
	var out []Sample
	for range max(1, o.Shots) {
		shot := o.Level.Draw(fill.SceneOf(b.side, image.Point{}), rng)
		patch, err := shot.View().TakePatch(camera.Sheet{Image: paper, PxPerMM: inkPxPerMM}, b.rect)
		if err != nil {
			return nil, fmt.Errorf("block at row %v: %w", b.rows, err)
		}
		at := crop.FromGray(patch.Straighten(b.rect, pagePxPerMM, off.Draw(rng)), pagePxPerMM)
		at.OriginX, at.OriginY = int(float64(b.rect.X)*pagePxPerMM+0.5), int(float64(b.rect.Y)*pagePxPerMM+0.5)
		for _, f := range b.part.Fields {
			where, ok := b.where[f.Name]
			if !ok || w.unsure[f.Name] || w.reached[f.Name] {
				continue
			}
			kind, written := w.kinds[f.Name]
			if !written {
				kind = Empty
			}
			out = append(out, Sample{
				Kind: kind, Way: w.ways[f.Name], Where: where, Hard: o.Level.Name == camera.Hard, Writer: o.Writer, Comb: crop.TakeComb(at, f.Rect, f.Boxes),
			})
		}
	}
	return out, nil
}

// writing is a block being filled.
type writing struct {
	*block
	pen    *hand.Writer
	digits fill.Digits
	rng    *rand.Rand
	ink    *hand.Ink
	kinds  map[string]Kind // of the combs with ink
	ways   map[string]Way  // of Other ink
	unsure map[string]bool
	// reached are combs that a question mark behind another may have reached.
	reached map[string]bool
	shift   map[string][2]float64 // of a comb's boxes, in boxes, where the writer misses them
}

// How often things go wrong: far oftener than on cards, for the net to see enough of them.
const (
	spoilShare = 0.42
	otherShare = 0.16 // of what fill left plain
	lineShare  = 0.1  // of that too, and half as much of what it left empty
	againShare = 0.25 // of second boxes, spoilt in the ways that fill has for first ones
)

var spoils = []fill.Spoil{fill.Struck, fill.Overwritten, fill.Overwritten, fill.Question, fill.Question, fill.RubbedOut, fill.OutsideBox, fill.OutsideBox, fill.Dash}

func (w *writing) spoil() fill.Spoil {
	if w.rng.Float64() < spoilShare {
		return spoils[w.rng.IntN(len(spoils))]
	}
	return fill.Clean
}

// fill writes what a judge means, and then what only happens here.
func (w *writing) fill() {
	plan := w.plan()
	w.shift = map[string][2]float64{}
	for name, where := range w.where {
		// A map's order is drawn anew each time: nothing random may be asked for in it but by name.
		if where == BibAgain {
			w.shift[name] = [2]float64{}
		}
	}
	for _, f := range w.part.Fields {
		if _, again := w.shift[f.Name]; again && w.rng.Float64() < againShare/3 {
			w.shift[f.Name] = [2]float64{0.3 + 0.35*w.rng.Float64(), 0.5*w.rng.Float64() - 0.2}
			if w.rng.IntN(2) == 0 {
				w.shift[f.Name] = [2]float64{-w.shift[f.Name][0], w.shift[f.Name][1]}
			}
		}
	}
	hands := fill.Writer{Pen: w.pen, Digits: w.digits, Box: func(comb sheetmodel.Field, i int) sheetmodel.Rect {
		box := comb.Rect.Box(i, comb.Boxes)
		s := w.shift[comb.Name]
		box.X += box.W * sheetmodel.MM(s[0])
		box.Y += box.H * sheetmodel.MM(s[1])
		return box
	}}
	truth := fill.Side(w.ink, w.part, plan, hands, w.rng)
	for _, f := range w.part.Fields {
		_, comb := w.where[f.Name]
		wrote, written := truth[f.Name]
		if !comb || !written {
			continue
		}
		w.kinds[f.Name] = ofSpoil[wrote.Spoil]
		if wrote.Spoil == fill.RubbedOut && w.pen.Pen == hand.Ballpoint {
			w.kinds[f.Name] = Struck // no rubber takes ballpoint: it is struck out and written over
		}
		if wrote.Spoil == fill.Question {
			w.reach(f)
		}
		if s := w.shift[f.Name]; s != [2]float64{} {
			w.kinds[f.Name] = Outside
		}
	}
	for _, f := range w.part.Fields {
		where, comb := w.where[f.Name]
		if !comb {
			continue
		}
		if w.reached[f.Name] {
			continue
		}
		kind, written := w.kinds[f.Name]
		switch {
		case !written && w.rng.Float64() < lineShare/2:
			w.stroke(f)
			w.unsure[f.Name] = true // until it is seen that the line hides it
		case !written || kind != Plain:
		case where == BibAgain && w.rng.Float64() < againShare:
			if w.kinds[f.Name] = w.again(f); w.kinds[f.Name] == Question {
				w.reach(f)
			}
		case w.rng.Float64() < otherShare:
			w.ways[f.Name] = w.other(f)
			w.kinds[f.Name] = Other
		case w.rng.Float64() < lineShare:
			w.stroke(f)
			w.unsure[f.Name] = true
		}
	}
	w.lines()
}

// lines looks for strokes that printed lines hide, which a plain hand leaves now and then too.
func (w *writing) lines() {
	for _, f := range w.part.Fields {
		if _, comb := w.where[f.Name]; !comb {
			continue
		}
		kind, written := w.kinds[f.Name]
		if written && kind != Plain {
			continue
		}
		switch w.hidden(f) {
		case all:
			w.kinds[f.Name] = OnLine
			delete(w.unsure, f.Name)
		case some:
			w.unsure[f.Name] = true
		case none:
		}
	}
}

// plan says what is written where.
func (w *writing) plan() fill.Plan {
	var p fill.Plan
	if w.panel != "" {
		one := fill.Panel{Letter: w.panel, Spoil: w.spoil()}
		for range 1 + w.rng.IntN(3) {
			one.Bibs = append(one.Bibs, w.bib(MostBoxes))
		}
		p.Panels = []fill.Panel{one}
		return p
	}
	boxes := MostBoxes
	for _, f := range w.part.Fields {
		if f.Part == sheetmodel.PartBib {
			boxes = f.Boxes
		}
	}
	for _, n := range w.rows {
		r := fill.Row{Number: n, Bib: w.bib(boxes), BibSpoil: w.spoil(), GateSpoil: w.spoil(), Rerun: w.rng.IntN(6) == 0}
		if w.rng.IntN(8) == 0 {
			r.Bib, r.BibSpoil = "", fill.Clean
		}
		if w.rng.Float64() < 0.65 {
			r.BibAgain = w.bib(boxes)
		}
		if w.rng.Float64() < 0.8 {
			r.Gate = strconv.Itoa(1 + w.rng.IntN(70))
		} else {
			r.GateSpoil = fill.Clean
		}
		for _, f := range w.part.RowFields(n) {
			if len(f.Options) == 0 || w.rng.Float64() > 0.75 {
				continue
			}
			o := f.Options[w.rng.IntN(len(f.Options))].Value
			switch f.Part { //nolint:exhaustive // the others have no options
			case sheetmodel.PartCode:
				if w.rng.IntN(2) == 0 {
					o = f.Options[0].Value // the box right behind the bib
				}
				r.Code = o
			case sheetmodel.PartPanel:
				r.Panel = o
			}
		}
		p.Rows = append(p.Rows, r)
	}
	return p
}

// bib has 1 to 3 digits, each as often, and no more than boxes.
func (w *writing) bib(boxes int) string {
	switch w.rng.IntN(min(3, boxes)) {
	case 0:
		return strconv.Itoa(1 + w.rng.IntN(9))
	case 1:
		return strconv.Itoa(10 + w.rng.IntN(90))
	default:
		return strconv.Itoa(100 + w.rng.IntN(200))
	}
}
