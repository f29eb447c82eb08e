package propose

import (
	"cmp"
	"fmt"
	"image"
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// PartUnnamed is the part of every proposed field, until a person says what it is for.
const PartUnnamed sheetmodel.Part = "unnamed"

// Proposal is what was found on one side of a blank card.
type Proposal struct {
	Picture *image.Gray // levelled, PxPerMM
	PxPerMM float64
	Turned  float64 // degrees
	Fields  []sheetmodel.Field
	Unsure  []string // what a person should look at first
}

const (
	minPxPerMM = 5.0
	alike      = 0.7 // mm by which edges of one row or column may differ
	lineWidest = 1.3 // mm between boxes that share a line
	tableRows  = 3   // so many boxes below each other are a column
)

// Side proposes the fields of a side of w × h mm from a grey picture that it fills, upright.
func Side(picture *image.Gray, w, h sheetmodel.MM) (*Proposal, error) {
	pxPerMM := float64(picture.Rect.Dx()) / float64(w)
	down := float64(picture.Rect.Dy()) / float64(h)
	if math.Abs(down/pxPerMM-1) > 0.02 {
		return nil, fmt.Errorf("the picture is %d × %d px, which is not the shape of a card of %v × %v mm; cut it to the card's edges, or give the card's size as it is held",
			picture.Rect.Dx(), picture.Rect.Dy(), w, h)
	}
	if pxPerMM < minPxPerMM {
		return nil, fmt.Errorf("the picture has %.1f px to the mm; scan it with 150 dpi or more", pxPerMM)
	}
	p := &Proposal{PxPerMM: pxPerMM}
	p.Picture, p.Turned = Level(picture)
	ink := inkOf(p.Picture, pxPerMM)
	least, gap := int(shortestMM*pxPerMM), int(bridgeMM*pxPerMM)
	lines := ink.along(true, least, gap)
	for i, v := range ink.along(false, least, gap).at {
		lines.at[i] = lines.at[i] || v
	}
	p.name(unite(boxesOf(ink, lines, pxPerMM)))
	return p, nil
}

// unit is one field to be, with the kind its shape speaks for.
type unit struct {
	rect  sheetmodel.Rect
	kind  sheetmodel.Kind
	boxes int
}

func near(a, b sheetmodel.MM) bool { return math.Abs(float64(a-b)) < alike }

func isTick(r sheetmodel.Rect) bool {
	return max(r.W, r.H) <= 6.5 && r.W < 1.35*r.H && r.H < 1.35*r.W
}

// beside reports whether b stands right of a, with a line of both between.
func beside(a, b sheetmodel.Rect) bool {
	gap := b.X - a.X - a.W
	return gap > 0 && gap < lineWidest && near(a.Y, b.Y) && near(a.H, b.H)
}

// unite joins boxes of a comb and sorts out those that nobody fills.
func unite(boxes []box) []unit {
	var empty []sheetmodel.Rect
	for _, b := range boxes {
		if !b.printed && !b.holds {
			empty = append(empty, b.rect)
		}
	}
	slices.SortFunc(empty, func(a, b sheetmodel.Rect) int { return cmp.Compare(a.X, b.X) })
	used := make([]bool, len(empty))
	var units []unit
	for i, r := range empty {
		if used[i] {
			continue
		}
		members, last, head := []int{i}, r, heading(boxes, r)
		for j := i + 1; j < len(empty); j++ {
			if !used[j] && beside(last, empty[j]) && near(r.W, empty[j].W) && heading(boxes, empty[j]) == head {
				members, last = append(members, j), empty[j]
			}
		}
		comb := len(members) > 1 && r.W >= 3.5 && r.W <= 11 && r.H >= 0.8*r.W && r.H <= 2.2*r.W
		if comb && (head < 0 || boxes[head].rect.W > r.W+2*alike) {
			for _, m := range members {
				used[m] = true
			}
			whole := r
			whole.W = last.X + last.W - r.X
			units = append(units, unit{whole, sheetmodel.Comb, len(members)})
			continue
		}
		used[i] = true
		units = append(units, unit{r, kindOf(r, boxes), 0})
	}
	return units
}

// heading is the printed box in which the column of r ends above, or -1. One of r's own width heads a column of a
// table; a wider one stands over all boxes of a comb, and over no other comb's.
func heading(boxes []box, r sheetmodel.Rect) int {
	for {
		i := slices.IndexFunc(boxes, func(b box) bool {
			gap := r.Y - b.rect.Y - b.rect.H
			return gap > 0 && gap < lineWidest && b.rect.X < r.X+alike && b.rect.X+b.rect.W > r.X+r.W-alike
		})
		if i < 0 || boxes[i].printed {
			return i
		}
		r = boxes[i].rect
	}
}

func kindOf(r sheetmodel.Rect, boxes []box) sheetmodel.Kind {
	joined := slices.ContainsFunc(boxes, func(b box) bool { return beside(b.rect, r) || beside(r, b.rect) })
	switch {
	case isTick(r) && !joined:
		return sheetmodel.Tick
	case r.W >= 25 && r.H >= 20:
		return sheetmodel.Drawing
	default:
		return sheetmodel.Cell
	}
}

var grammarOf = map[sheetmodel.Kind]sheetmodel.Grammar{
	sheetmodel.Comb: sheetmodel.GrammarCount, sheetmodel.Cell: sheetmodel.GrammarFree, sheetmodel.Text: sheetmodel.GrammarFree,
	sheetmodel.Tick: sheetmodel.GrammarMark, sheetmodel.Drawing: sheetmodel.GrammarDrawing,
}

// name numbers rows and columns and turns units into fields.
func (p *Proposal) name(units []unit) {
	slices.SortFunc(units, func(a, b unit) int {
		if c := cmp.Compare(a.rect.X, b.rect.X); c != 0 {
			return c
		}
		return cmp.Compare(a.rect.Y, b.rect.Y)
	})
	var columns, loose [][]unit
	taken := make([]bool, len(units))
	for i, u := range units {
		if taken[i] {
			continue
		}
		var col []unit
		for j := i; j < len(units); j++ {
			v := units[j]
			if !taken[j] && v.kind == u.kind && v.boxes == u.boxes && near(v.rect.X, u.rect.X) && near(v.rect.W, u.rect.W) && near(v.rect.H, u.rect.H) {
				col = append(col, v)
				taken[j] = true
			}
		}
		slices.SortFunc(col, func(a, b unit) int { return cmp.Compare(a.rect.Y, b.rect.Y) })
		if len(col) >= tableRows {
			columns = append(columns, col)
			continue
		}
		loose = append(loose, col)
	}
	var tops []sheetmodel.MM // middles of rows; rows of two columns side by side share a number
	for _, col := range columns {
		for _, u := range col {
			y := u.rect.Center().Y
			if !slices.ContainsFunc(tops, func(t sheetmodel.MM) bool { return math.Abs(float64(t-y)) < 1.5 }) {
				tops = append(tops, y)
			}
		}
	}
	slices.Sort(tops)
	for c, col := range columns {
		from := len(p.Fields) + 1
		for _, u := range col {
			y := u.rect.Center().Y
			row := 1 + slices.IndexFunc(tops, func(t sheetmodel.MM) bool { return math.Abs(float64(t-y)) < 1.5 })
			p.add(fmt.Sprintf("row-%02d.column-%d", row, c+1), u, row)
		}
		what := string(col[0].kind)
		if col[0].boxes > 0 {
			what = fmt.Sprintf("%s of %d boxes", what, col[0].boxes)
		}
		p.Unsure = append(p.Unsure, fmt.Sprintf("%d to %d: column %d, %d rows, taken for a %s: what is it for?", from, len(p.Fields), c+1, len(col), what))
	}
	n := 0
	for _, group := range loose {
		for _, u := range group {
			n++
			if u.kind == sheetmodel.Cell && u.rect.W >= 15 {
				u.kind = sheetmodel.Text
			}
			name := fmt.Sprintf("header.field-%d", n)
			p.add(name, u, 0)
			p.Unsure = append(p.Unsure, fmt.Sprintf("%d: %s, taken for a %s: what is it for?", len(p.Fields), name, u.kind))
		}
	}
}

func (p *Proposal) add(name string, u unit, row int) {
	round := func(v sheetmodel.MM) sheetmodel.MM { return sheetmodel.MM(math.Round(float64(v)*10) / 10) }
	r := sheetmodel.Rect{X: round(u.rect.X), Y: round(u.rect.Y), W: round(u.rect.W), H: round(u.rect.H)}
	p.Fields = append(p.Fields, sheetmodel.Field{
		Name: name, Part: PartUnnamed, Kind: u.kind, Rect: r, Row: row, Boxes: u.boxes, Grammar: grammarOf[u.kind],
	})
}
