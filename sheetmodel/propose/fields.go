package propose

import (
	"cmp"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// Proposal is what was found on one side of a blank card.
type Proposal struct {
	Picture *image.Gray // levelled, PxPerMM
	PxPerMM float64
	Turned  float64 // degrees
	Fields  []sheetmodel.Field
	Unsure  []string // what a person should look at first, by the numbers of fields, from 1
}

const (
	minPxPerMM    = 5.0
	alike         = 0.7 // mm by which edges of one row or column may differ
	lineWidest    = 1.3 // mm between boxes that share a line
	tableRows     = 3   // so many boxes below each other are a column
	longestStroke = 4.5 // mm, of a letter's straight stroke
	combGap       = 4.0 // mm from one box of a comb to the next, their lines with it, where they don't touch
	slimmest      = 4.0 // mm: a lower or narrower gap between lines is no place to write
)

// Side proposes the fields of a side of w × h mm from a grey picture that it fills, upright. read may be nil: then no
// word is read, and every part is sheetmodel.PartUnnamed.
//
// Words are understood as on a card for faults alone; SideOf takes another style.
func Side(picture *image.Gray, w, h sheetmodel.MM, read Reader) (*Proposal, error) {
	return SideOf(sheetmodel.FaultOnly, picture, w, h, read)
}

// SideOf is Side for a card of a style: on one with a mark for every racer some words, and the place of a column, mean something else.
func SideOf(style sheetmodel.Style, picture *image.Gray, w, h sheetmodel.MM, read Reader) (*Proposal, error) {
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
	f := &finder{Proposal: p, style: style, w: w, h: h, read: read}
	f.ink = inkOf(p.Picture, pxPerMM)
	if why := f.crooked(); why != "" {
		return nil, errors.New(why)
	}
	least, gap := int(shortestMM*pxPerMM), int(bridgeMM*pxPerMM)
	f.across = f.ink.along(true, least, gap)
	f.lines = f.ink.along(false, least, gap)
	f.down = mask{f.lines.w, f.lines.h, slices.Clone(f.lines.at)}
	for i, v := range f.across.at {
		f.lines.at[i] = f.lines.at[i] || v
	}
	f.boxes = boxesOf(f.ink, f.lines, pxPerMM)
	// Unbridged and longer than any letter's stroke: what is left is what somebody printed to be read.
	f.words = mask{f.ink.w, f.ink.h, slices.Clone(f.ink.at)}
	f.ruled = f.ink.along(true, int(longestStroke*pxPerMM), 1)
	for i, v := range f.ink.along(false, int(longestStroke*pxPerMM), 1).at {
		f.ruled.at[i] = f.ruled.at[i] || v
		f.words.at[i] = f.words.at[i] && !f.ruled.at[i]
	}
	if read != nil {
		words, err := read.Page(f.withoutLines())
		if err != nil {
			return nil, err
		}
		f.labels = phrases(words, f.lines, pxPerMM)
	}
	if err := f.find(); err != nil {
		return nil, err
	}
	return p, nil
}

// finder is one side being looked at.
type finder struct {
	*Proposal
	style                    sheetmodel.Style
	w, h                     sheetmodel.MM
	read                     Reader
	ink, lines, across, down mask
	words, ruled             mask // ink of letters, and of lines
	boxes                    []box
	tables                   []int // of each box, which boxes it hangs together with
	labels                   []label
	units                    []unit
}

// unit is one field to be, with the kind its shape speaks for.
type unit struct {
	rect    sheetmodel.Rect
	kind    sheetmodel.Kind
	boxes   int // of a comb
	options []sheetmodel.Rect
	printed []string // of options, what is printed in each of them
	line    bool     // a line to write on, no box
	panel   bool     // a box to draw into
	letter  string   // of a panel
	label   string   // printed in its own box
	maybe   bool     // a comb that may as well be ticks
	table   int
	parent  sheetmodel.Rect // the box it lies in, or itself
}

func (f *finder) mm(v int) sheetmodel.MM { return sheetmodel.MM(float64(v) / f.PxPerMM) }

func (f *finder) px(r sheetmodel.Rect) image.Rectangle {
	v := func(x sheetmodel.MM) int { return int(math.Round(float64(x) * f.PxPerMM)) }
	return image.Rect(v(r.X), v(r.Y), v(r.X+r.W), v(r.Y+r.H)).Intersect(f.Picture.Rect)
}

func near(a, b sheetmodel.MM) bool { return math.Abs(float64(a-b)) < alike }

func isTick(r sheetmodel.Rect) bool {
	return max(r.W, r.H) <= 6.5 && r.W < 1.35*r.H && r.H < 1.35*r.W
}

func isPanel(r sheetmodel.Rect) bool { return r.W >= 25 && r.H >= 20 }

// isSlit reports whether r is only what is left between two lines.
func isSlit(r sheetmodel.Rect) bool { return !isTick(r) && min(r.W, r.H) < slimmest }

// beside reports whether b stands right of a, with a line of both between.
func beside(a, b sheetmodel.Rect) bool {
	gap := b.X - a.X - a.W
	return gap > 0 && gap < lineWidest && near(a.Y, b.Y) && near(a.H, b.H)
}

// apartComb reports whether b stands right of a as the next box of a comb does whose boxes don't touch: as large, close
// by, and nothing printed between them. Boxes to tick that don't touch are each one by itself.
func (f *finder) apartComb(a, b sheetmodel.Rect) bool {
	gap := b.X - a.X - a.W
	if gap < lineWidest || gap > combGap || gap > 0.45*a.W || isTick(a) || !combShaped(a) || !near(a.W, b.W) || !near(a.Y, b.Y) || !near(a.H, b.H) {
		return false
	}
	return f.words.bounds(f.px(sheetmodel.Rect{X: a.X + a.W, Y: a.Y, W: gap, H: a.H})).Empty()
}

// combShaped reports whether one character is written into r.
func combShaped(r sheetmodel.Rect) bool {
	return r.W >= 3.5 && r.W <= 11 && r.H >= 0.8*r.W && r.H <= 2.2*r.W
}

// find fills Fields: boxes to units, units to columns, words to parts.
func (f *finder) find() error {
	f.hang()
	f.unite()
	f.sameInEachRow()
	if err := f.panels(); err != nil {
		return err
	}
	f.captions()
	f.underlines()
	f.units = slices.DeleteFunc(f.units, func(u unit) bool { return f.black(u.rect) })
	for i := range f.units {
		u := &f.units[i]
		u.parent, u.table = u.rect, -1
		for j, b := range f.boxes {
			if c := u.rect.Center(); b.rect.Grow(0.3).Contains(c) && u.rect.W <= b.rect.W+alike && (u.table < 0 || b.rect.W*b.rect.H > u.parent.W*u.parent.H) && !u.line {
				u.parent, u.table = b.rect, f.tables[j]
			}
		}
		if len(u.options) > 0 || u.kind == sheetmodel.Comb { // no one box holds all of it
			for j, b := range f.boxes {
				if b.rect.Contains(u.rect.Box(0, max(1, u.boxes, len(u.options))).Center()) {
					u.table = f.tables[j]
				}
			}
		}
	}
	return f.name()
}

// blackGrey is darker than any shade that a pencil is read on.
const blackGrey = 110

// black reports whether most of a rectangle is printed dark, such as a band with a title in white: nobody writes there.
func (f *finder) black(r sheetmodel.Rect) bool {
	px := f.px(r).Intersect(f.Picture.Rect)
	dark := 0
	for y := px.Min.Y; y < px.Max.Y; y++ {
		for _, v := range f.Picture.Pix[f.Picture.PixOffset(px.Min.X, y):f.Picture.PixOffset(px.Max.X, y)] {
			if v < blackGrey {
				dark++
			}
		}
	}
	return 2*dark > px.Dx()*px.Dy()
}

// hang says which boxes hang together: they share a line, or one lies in the other.
func (f *finder) hang() {
	f.tables = make([]int, len(f.boxes))
	for i := range f.tables {
		f.tables[i] = i
	}
	root := func(i int) int {
		for f.tables[i] != i {
			f.tables[i] = f.tables[f.tables[i]]
			i = f.tables[i]
		}
		return i
	}
	for i, a := range f.boxes {
		for j := i + 1; j < len(f.boxes); j++ {
			b := f.boxes[j].rect
			overX := min(a.rect.X+a.rect.W, b.X+b.W) - max(a.rect.X, b.X)
			overY := min(a.rect.Y+a.rect.H, b.Y+b.H) - max(a.rect.Y, b.Y)
			touch := (overX > -lineWidest && overY > 0.5*min(a.rect.H, b.H)) || (overY > -lineWidest && overX > 0.5*min(a.rect.W, b.W))
			if touch {
				f.tables[root(i)] = root(j)
			}
		}
	}
	for i := range f.tables {
		f.tables[i] = root(i)
	}
}

// unite joins boxes of a comb, or of a row of boxes to tick, and sorts out those that nobody fills.
func (f *finder) unite() {
	var empty []sheetmodel.Rect
	for _, b := range f.boxes {
		if !b.printed && !b.holds && !isSlit(b.rect) && !f.amongHeads(b) {
			empty = append(empty, b.rect)
		}
	}
	slices.SortFunc(empty, func(a, b sheetmodel.Rect) int {
		return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y))
	})
	used := make([]bool, len(empty))
	for i, r := range empty {
		if used[i] {
			continue
		}
		// All boxes alike that touch in a row, and of those the first that stand under one heading.
		chain, last := []int{i}, r
		for j := i + 1; j < len(empty); j++ {
			if !used[j] && near(r.W, empty[j].W) && (beside(last, empty[j]) || f.apartComb(last, empty[j])) {
				chain, last = append(chain, j), empty[j]
			}
		}
		heads := make([]int, len(chain))
		for k, m := range chain {
			heads[k] = f.heading(empty[m])
		}
		same := 1
		for same < len(chain) && heads[same] == heads[0] {
			same++
		}
		own := 1
		narrow := func(head int) bool { return head >= 0 && f.boxes[head].rect.W < r.W+2*alike }
		for own < len(chain) && narrow(heads[own]) && !slices.Contains(heads[:own], heads[own]) && !f.beginsAgain(heads, own) {
			own++
		}
		rects := make([]sheetmodel.Rect, 0, len(chain))
		for _, m := range chain {
			rects = append(rects, empty[m])
		}
		take := func(n int, u unit) {
			for _, m := range chain[:n] {
				used[m] = true
			}
			for _, o := range rects[1:n] {
				u.rect = u.rect.Union(o)
			}
			f.units = append(f.units, u)
		}
		small := isTick(r)
		oneHead := same > 1 && (heads[0] < 0 || f.boxes[heads[0]].rect.W > r.W+2*alike)
		comb := combShaped(r)
		if heads[0] >= 0 && same > 1 { // wider ones are a comb where one heading stands over them and nothing else
			h := f.boxes[heads[0]].rect
			comb = comb || r.W <= 14 && r.H >= 0.6*r.W && near(h.X, r.X) && near(h.X+h.W, rects[same-1].X+rects[same-1].W)
		}
		switch {
		case small && own > 1 && narrow(heads[0]):
			take(own, unit{rect: r, kind: sheetmodel.Choice, options: rects[:own]})
		case oneHead && small && f.labelled(rects[:same], heads[0]):
			take(same, unit{rect: r, kind: sheetmodel.Choice, options: rects[:same]})
		case oneHead && small && (r.W < 4.9 || (same >= 5 && r.H < 1.15*r.W)):
			take(same, unit{rect: r, kind: sheetmodel.Choice, options: rects[:same]})
		case oneHead && comb:
			take(same, unit{rect: r, kind: sheetmodel.Comb, boxes: same, maybe: small})
		default:
			used[i] = true
			f.units = append(f.units, unit{rect: r, kind: kindOf(r)})
		}
	}
}

// beginsAgain reports whether the headings from n on show the first two letters anew: no choice has a letter twice, so the
// next one begins there. One letter alone may look like another in a scan.
func (f *finder) beginsAgain(heads []int, n int) bool {
	if n < 2 || n+1 >= len(heads) || heads[n+1] < 0 {
		return false
	}
	for k := range 2 {
		if !f.sameInk(f.boxes[heads[k]].print, f.boxes[heads[n+k]].print) {
			return false
		}
	}
	return true
}

// amongHeads reports whether an empty box stands in a row of printed headings, as the one over the rows' numbers does.
func (f *finder) amongHeads(b box) bool {
	for i, o := range f.boxes {
		if o.printed && near(o.rect.Y, b.rect.Y) && near(o.rect.H, b.rect.H) && f.heads(i) && f.headsPrint(b) {
			return true
		}
	}
	return false
}

// headsPrint reports whether printed boxes as wide as b stand right below it.
func (f *finder) headsPrint(b box) bool {
	n := 0
	for _, o := range f.boxes {
		if o.printed && near(o.rect.X, b.rect.X) && near(o.rect.W, b.rect.W) && o.rect.Y > b.rect.Y {
			n++
		}
	}
	return n >= tableRows
}

// labelled reports whether something is printed over each box by itself: in the heading over all of them, or just above.
func (f *finder) labelled(rects []sheetmodel.Rect, head int) bool {
	n := 0
	for _, r := range rects {
		strip := sheetmodel.Rect{X: r.X, Y: r.Y - 4, W: r.W, H: 3.6}
		if head >= 0 {
			b := f.boxes[head].rect
			strip.Y, strip.H = b.Y+edgeMM, b.H-2*edgeMM
		}
		px := f.px(strip)
		ink := f.words.bounds(px)
		if ink.Empty() || f.mm(ink.Dy()) < 1 {
			continue
		}
		middle := float64(ink.Min.X+ink.Max.X-px.Min.X-px.Max.X) / 2 / float64(px.Dx())
		if math.Abs(middle) < 0.2 && float64(ink.Dx()) < 0.85*float64(px.Dx()) {
			n++
		}
	}
	return n == len(rects)
}

// heading is the nearest printed box above r in its table that covers r's middle, or -1. One of r's own width heads
// a column; a wider one stands over all boxes of a comb, and over no other comb's.
func (f *finder) heading(r sheetmodel.Rect) int {
	best, own := -1, -1
	for i, b := range f.boxes {
		if b.rect.Contains(r.Center()) {
			own = f.tables[i]
		}
	}
	c := r.Center()
	for i, b := range f.boxes {
		if b.printed && f.tables[i] == own && b.rect.Y+b.rect.H < r.Y+alike && b.rect.X < c.X && b.rect.X+b.rect.W > c.X &&
			(best < 0 || b.rect.Y > f.boxes[best].rect.Y) {
			best = i
		}
	}
	return best
}

func kindOf(r sheetmodel.Rect) sheetmodel.Kind {
	switch {
	case isTick(r):
		return sheetmodel.Tick
	case isPanel(r):
		return sheetmodel.Drawing
	default:
		return sheetmodel.Cell
	}
}

const largestOption = 10.0 // mm, of a box with a letter in it

// sameInEachRow finds boxes with the same print in every row, such as a code's letter: they are there to be marked. A
// row's number differs from row to row.
func (f *finder) sameInEachRow() {
	var marked []int
	taken := make([]bool, len(f.boxes))
	for i, a := range f.boxes {
		if !f.letterBox(a) || taken[i] {
			continue
		}
		column, all := []int{i}, 0
		for j, b := range f.boxes {
			if f.letterBox(b) && near(a.rect.X, b.rect.X) && near(a.rect.W, b.rect.W) && near(a.rect.H, b.rect.H) {
				all++
				if j > i && !taken[j] && f.sameInk(a.print, b.print) {
					column = append(column, j)
				}
			}
		}
		if len(column) >= tableRows && 5*len(column) >= 4*all {
			for _, j := range column {
				taken[j] = true
			}
			marked = append(marked, column...)
		}
	}
	slices.SortFunc(marked, func(a, b int) int { return cmp.Compare(f.boxes[a].rect.X, f.boxes[b].rect.X) })
	used := map[int]bool{}
	for _, i := range marked {
		if used[i] {
			continue
		}
		u := unit{rect: f.boxes[i].rect, kind: sheetmodel.Choice, options: []sheetmodel.Rect{f.boxes[i].rect}}
		u.printed = []string{f.letterIn(f.boxes[i].print)}
		used[i] = true
		last := f.boxes[i].rect
		for _, j := range marked {
			b := f.boxes[j].rect
			if gap := b.X - last.X - last.W; !used[j] && near(b.Y, last.Y) && near(b.H, last.H) && gap > 0 && gap < 3 {
				u.rect, u.options, used[j], last = u.rect.Union(b), append(u.options, b), true, b
				u.printed = append(u.printed, f.letterIn(f.boxes[j].print))
			}
		}
		f.units = append(f.units, u)
	}
}

func (f *finder) letterBox(b box) bool {
	return b.printed && !b.holds && max(b.rect.W, b.rect.H) <= largestOption && f.mm(b.print.Dx()) < 0.7*b.rect.W && f.mm(b.print.Dy()) < 0.7*b.rect.H
}

func (f *finder) letterIn(px image.Rectangle) string {
	if f.read == nil || px.Empty() {
		return ""
	}
	s, err := f.read.Letter(f.cut(px.Inset(-int(0.8 * f.PxPerMM))))
	if err != nil {
		return ""
	}
	return s
}

// sameInk reports whether two places show the same print, laid one on the other.
func (f *finder) sameInk(a, b image.Rectangle) bool {
	if a.Empty() || b.Empty() || math.Abs(float64(a.Dx()-b.Dx())) > 3 || math.Abs(float64(a.Dy()-b.Dy())) > 3 {
		return false
	}
	best := 0.0
	for dy := -2; dy <= 2; dy++ {
		for dx := -2; dx <= 2; dx++ {
			both, either := 0, 0
			for y := range max(a.Dy(), b.Dy()) {
				for x := range max(a.Dx(), b.Dx()) {
					p, q := f.inkAt(a.Min.X+x, a.Min.Y+y), f.inkAt(b.Min.X+x+dx, b.Min.Y+y+dy)
					if p || q {
						either++
					}
					if p && q {
						both++
					}
				}
			}
			best = max(best, float64(both)/float64(max(1, either)))
		}
	}
	const same = 0.65
	return best > same
}

func (f *finder) inkAt(x, y int) bool {
	return x >= 0 && y >= 0 && x < f.ink.w && y < f.ink.h && f.ink.at[y*f.ink.w+x]
}

// panels finds large boxes that hold no more than a letter in a corner.
func (f *finder) panels() error {
	var found []int
	for i, b := range f.boxes {
		if b.printed && !b.holds && isPanel(b.rect) && float64(b.print.Dx()) < 0.35*float64(b.px.Dx()) && float64(b.print.Dy()) < 0.35*float64(b.px.Dy()) {
			found = append(found, i)
		}
	}
	slices.SortFunc(found, func(i, j int) int {
		a, b := f.boxes[i].rect, f.boxes[j].rect
		if near(a.Y, b.Y) {
			return cmp.Compare(a.X, b.X)
		}
		return cmp.Compare(a.Y, b.Y)
	})
	read := make([]string, len(found))
	for k, i := range found {
		read[k] = f.letterIn(f.boxes[i].print)
	}
	inOrder(read)
	for k, i := range found {
		f.units = append(f.units, unit{rect: f.boxes[i].rect, kind: sheetmodel.Drawing, panel: true, letter: read[k]})
	}
	return nil
}

// inOrder makes panels' letters follow each other, from whichever is the first, if at least half of them were read so: one
// or none was read in another way.
func inOrder(read []string) {
	votes := map[rune]int{}
	for k, s := range read {
		if r := []rune(s); len(r) == 1 {
			votes[r[0]-rune(k)]++
		}
	}
	first, most := rune(0), 0
	for r, n := range votes {
		if n > most || n == most && r < first {
			first, most = r, n
		}
	}
	last := first + rune(len(read)) - 1
	if 2*most < len(read) || !(first >= 'A' && last <= 'Z' || first >= '1' && last <= '9') {
		return
	}
	for k := range read {
		read[k] = string(first + rune(k))
	}
}

// captions finds boxes with a known word in them and room beside or below it.
func (f *finder) captions() {
	for i, b := range f.boxes {
		if !b.printed || b.holds || isPanel(b.rect) || f.heads(i) {
			continue
		}
		text := f.textIn(b.rect)
		if _, known := senseOf(text, false); !known {
			continue
		}
		r, edge := b.rect, sheetmodel.MM(edgeMM)
		right, below := f.mm(b.px.Max.X-b.print.Max.X), f.mm(b.px.Max.Y-b.print.Max.Y)
		switch {
		case right >= 10 && right >= 0.3*r.W && r.H >= 5:
			r.X, r.W = r.X+r.W-right+edge, right-edge
		case below >= 5 && r.W >= 10:
			r.Y, r.H = r.Y+r.H-below+edge, below-edge
		default:
			continue
		}
		f.units = append(f.units, unit{rect: r, kind: sheetmodel.Cell, label: text})
	}
}

// heads reports whether boxes to fill stand below box i, as under a heading.
func (f *finder) heads(i int) bool {
	h := f.boxes[i].rect
	n := 0
	for j, b := range f.boxes {
		if f.tables[j] == f.tables[i] && !b.printed && b.rect.Y > h.Y && b.rect.Center().X > h.X && b.rect.Center().X < h.X+h.W && b.rect.W < h.W+2*alike {
			n++
		}
	}
	return n >= tableRows
}

// textIn joins the words that were read within r.
func (f *finder) textIn(r sheetmodel.Rect) string {
	text := ""
	for _, l := range f.labels {
		if r.Contains(l.rect.Center()) {
			text += " " + l.text
		}
	}
	return text
}

const (
	shortestRule = 10.0 // mm, of a line to write on
	ruleRoom     = 4.5  // mm above it that must be white
	ruleHeight   = 8.0  // mm above it that are written on, where they are white
	widestRule   = 0.86 // of the side: a longer line parts, unless a word stands before it
	dotGap       = 2.0  // mm between dots of a dotted line
)

// underlines finds lines to write on: ruled or dotted, free at both ends, white above.
func (f *finder) underlines() {
	dots := newMask(f.ink.w, f.ink.h)
	for _, b := range f.ink.blobs() {
		if f.mm(max(b.rect.Dx(), b.rect.Dy())) < 1.6 && f.mm(b.rect.Dy()) < 0.9 {
			for _, p := range b.px {
				dots.at[p] = true
			}
		}
	}
	rules := f.ink.along(true, int(0.8*shortestRule*f.PxPerMM), int(bridgeMM*f.PxPerMM))
	for i, v := range dots.along(true, int(shortestRule*f.PxPerMM), int(dotGap*f.PxPerMM)).at {
		rules.at[i] = rules.at[i] || v
	}
	for _, b := range rules.blobs() {
		r := b.rect
		if f.mm(r.Dx()) < shortestRule || f.mm(r.Dy()) > lineWidest {
			continue
		}
		if f.crossed(r) {
			continue
		}
		room := int(ruleRoom * f.PxPerMM)
		free := int(0.4 * f.PxPerMM)
		inner := image.Rect(r.Min.X+free, r.Min.Y-room, r.Max.X-free, r.Min.Y-free)
		if inner.Min.Y < 0 || f.ink.share(inner) > 0.004 {
			continue
		}
		top := inner.Min.Y
		for top > 0 && r.Min.Y-top < int(ruleHeight*f.PxPerMM) && f.ink.share(image.Rect(inner.Min.X, top-1, inner.Max.X, top)) < 0.004 {
			top--
		}
		rect := sheetmodel.Rect{X: f.mm(r.Min.X), Y: f.mm(top), W: f.mm(r.Dx()), H: f.mm(r.Min.Y - top)}
		if float64(rect.W) > widestRule*float64(f.w) && f.leftOf(rect) == "" {
			continue
		}
		if slices.ContainsFunc(f.boxes, func(b box) bool { return b.rect.Grow(1).Contains(rect.Center()) && !b.holds && !b.printed }) {
			continue
		}
		f.units = append(f.units, unit{rect: rect, kind: sheetmodel.Text, line: true})
	}
}

// crossed reports whether lines run down from or through a rule: it is the edge of a box.
func (f *finder) crossed(r image.Rectangle) bool {
	reach := max(2, int(0.6*f.PxPerMM))
	for x := r.Min.X - reach; x < r.Max.X+reach; x++ {
		for _, y := range []int{r.Min.Y - reach, r.Max.Y + reach} {
			if x >= 0 && x < f.down.w && y >= 0 && y < f.down.h && f.down.at[y*f.down.w+x] {
				return true
			}
		}
	}
	return false
}

// cut is a piece of the picture by itself.
func (f *finder) cut(r image.Rectangle) *image.Gray {
	r = r.Intersect(f.Picture.Rect)
	out := image.NewGray(image.Rect(0, 0, r.Dx(), r.Dy()))
	for y := range r.Dy() {
		copy(out.Pix[y*out.Stride:(y+1)*out.Stride], f.Picture.Pix[(r.Min.Y+y)*f.Picture.Stride+r.Min.X:])
	}
	return out
}

// withoutLines is the picture with paper where ruled lines were: a reader of words takes them for letters.
func (f *finder) withoutLines() *image.Gray {
	out := image.NewGray(f.Picture.Rect)
	copy(out.Pix, f.Picture.Pix)
	w, h := out.Rect.Dx(), out.Rect.Dy()
	reach := max(1, int(0.25*f.PxPerMM))
	for y := range h {
		for x := range w {
			if !f.ruled.at[y*w+x] {
				continue
			}
			for v := max(0, y-reach); v <= min(h-1, y+reach); v++ {
				for u := max(0, x-reach); u <= min(w-1, x+reach); u++ {
					out.Pix[v*out.Stride+u] = 255
				}
			}
		}
	}
	return out
}
