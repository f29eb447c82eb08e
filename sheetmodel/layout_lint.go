package sheetmodel

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// fault is one thing wrong with a layout and the name of the field, side or mark it lies at.
type fault struct {
	noun, text string
	side       SideName // of a field
	why        string   // of a field: what is wrong, without its name
	fields     []string // of the side, where it lies at several
}

// Weak is one thing to be mended, and the fields at which it lies.
type Weak struct {
	Text   string   `json:"text"`
	Side   SideName `json:"side,omitempty"`
	Fields []string `json:"fields,omitempty"`
}

// least is the smallest box, in mm, that a gloved hand fills and a reader resolves, by kind.
var least = map[Kind]struct{ w, h MM }{
	Comb:    {6, 7}, // each box
	Cell:    {8, 7},
	Tick:    {4, 4},
	Choice:  {3.9, 3.9}, // each option
	Text:    {15, 6},
	Drawing: {20, 6},
}

// Lint returns what a person should mend in a layout before it is printed or read, worst first;
// an empty slice if nothing. It checks what ParseLayout refuses, and also what merely makes
// a bad card.
func Lint(l *Layout) []string {
	var found []string
	for _, w := range Weaknesses(l) {
		found = append(found, w.Text)
	}
	return found
}

// Weaknesses is Lint with the fields at which each thing lies. What is wrong with a whole column is said once: nobody
// looks through the same sentence for each of its rows.
func Weaknesses(l *Layout) []Weak {
	var found []Weak
	at := map[string]int{}
	for _, f := range append(l.faults(), l.weaknesses()...) {
		if f.why == "" {
			found = append(found, Weak{Text: f.text, Side: f.side, Fields: f.fields})
			continue
		}
		key := ""
		if m := inRow.FindStringSubmatch(f.noun); m != nil {
			key = fmt.Sprintf("%s %s %s", f.side, m[1], size.ReplaceAllString(f.why, ""))
		}
		i, ok := at[key]
		if !ok || key == "" {
			at[key] = len(found)
			found = append(found, Weak{Text: f.text, Side: f.side, Fields: []string{f.noun}})
			continue
		}
		w := &found[i]
		w.Fields = append(w.Fields, f.noun)
		w.Text = fmt.Sprintf("side %s: %d fields, %s to %s: %s", f.side, len(w.Fields), w.Fields[0], f.noun, f.why)
	}
	return found
}

var (
	inRow = regexp.MustCompile(`^row-[0-9]+\.(.+)$`)
	size  = regexp.MustCompile(`^[0-9.]+ × [0-9.]+ mm`) // differs by a hair from row to row
)

// largestSide is the long edge of A3, in mm, and a little.
const largestSide MM = 450

// faults are those that make a layout unusable by a reader.
func (l *Layout) faults() []fault {
	var found []fault
	add := func(noun, format string, args ...any) {
		found = append(found, fault{noun: noun, text: fmt.Sprintf(format, args...)})
	}
	if l.Style != FaultOnly && l.Style != EveryRacer {
		add("", "style %q: write %s, or %s for a card with a mark for each bib that passes", l.Style, FaultOnly, EveryRacer)
	}
	if strange(l.Name) {
		add("", "the layout's name holds what can't be printed, or is longer than 255 letters")
	}
	sides, marks := map[SideName]bool{}, map[int]bool{}
	for i := range l.Sides {
		s := &l.Sides[i]
		if s.Name != Front && s.Name != Back {
			add(string(s.Name), "side %q: must be front or back", s.Name)
		}
		if sides[s.Name] {
			add(string(s.Name), "side %s: described twice", s.Name)
		}
		sides[s.Name] = true
		if !(s.W >= 20 && s.W <= largestSide && s.H >= 20 && s.H <= largestSide) {
			add(string(s.Name), "side %s: %v × %v mm is no card; w and h are mm as the card is held, such as 148 and 210", s.Name, s.W, s.H)
			continue
		}
		for _, m := range s.Marks {
			noun := fmt.Sprint(m.ID)
			if m.ID < 0 || m.ID >= MarkCount {
				add(noun, "side %s: mark %d: known are 0 to %d", s.Name, m.ID, MarkCount-1)
			}
			if marks[m.ID] {
				add(noun, "side %s: mark %d: repeated; every mark of a layout needs its own number", s.Name, m.ID)
			}
			marks[m.ID] = true
			if !s.holds(m.Rect) || !same(m.Rect.W, m.Rect.H) {
				add(noun, "side %s: mark %d: must be a square inside the side", s.Name, m.ID)
			}
		}
		for _, r := range s.Identity {
			if !s.holds(r) || !same(r.W, r.H) {
				add("", "side %s: identity at %v,%v: must be a square inside the side", s.Name, r.X, r.Y)
			}
		}
		names := map[string]bool{}
		for _, f := range s.Fields {
			if names[f.Name] {
				add(f.Name, "side %s: field %s: name used twice", s.Name, f.Name)
			}
			names[f.Name] = true
			for _, text := range s.fieldFaults(f) {
				found = append(found, atField(s, f, text))
			}
		}
		for n, p := range s.Print {
			if !s.canPrint(p) {
				add("", "side %s: print item %d: lies outside the side, or has sizes that can't be printed", s.Name, n+1)
			}
		}
	}
	return found
}

func atField(s *Side, f Field, why string) fault {
	name := f.Name
	if strange(name) {
		name = fmt.Sprintf("%.40q", name)
	}
	return fault{noun: f.Name, text: fmt.Sprintf("side %s: field %s: %s", s.Name, name, why), side: s.Name, why: why}
}

func (s *Side) fieldFaults(f Field) []string {
	var found []string
	if f.Name == "" || f.Part == "" {
		found = append(found, "needs a name and a part")
	}
	if strange(f.Name) {
		found = append(found, "its name holds what can't be printed, or is longer than 255 letters")
	}
	if !slices.Contains(Kinds, f.Kind) {
		found = append(found, fmt.Sprintf("unknown kind %q; known are %v", f.Kind, Kinds))
	}
	if !slices.Contains(Grammars, f.Grammar) {
		found = append(found, fmt.Sprintf("unknown grammar %q; known are %v", f.Grammar, Grammars))
	}
	switch r := f.Rect; {
	case !(r.W > 0 && r.H > 0):
		found = append(found, fmt.Sprintf("is %v × %v mm; rect needs x, y, w and h, with w and h above 0", r.W, r.H))
	case !s.holds(r):
		found = append(found, fmt.Sprintf("lies outside the side: from %v,%v to %v,%v mm on a side of %v × %v mm", r.X, r.Y, r.X+r.W, r.Y+r.H, s.W, s.H))
	}
	if f.Kind == Comb && (f.Boxes < 1 || f.Boxes > 20) {
		found = append(found, fmt.Sprintf("a comb needs 1 to 20 boxes, not %d", f.Boxes))
	}
	if f.Row < 0 || f.Row > 999 || f.Entry < 0 || f.Entry > 99 {
		found = append(found, fmt.Sprintf("row %d, entry %d: no such numbers", f.Row, f.Entry))
	}
	if f.Kind == Printed && f.Part == PartBib && f.Row > 0 && len(f.Options) != 1 {
		found = append(found, "a printed bib needs one option, whose value is the bib as it is printed")
	}
	if bib, ok := f.PrintedBib(); ok && CanonicalBib(bib) != bib {
		found = append(found, fmt.Sprintf("printed bib %q: write it as %q", bib, CanonicalBib(bib)))
	}
	if f.Part == PartPassed && f.Kind != Tick {
		found = append(found, "a mark for a racer who passed is a tick")
	}
	if f.Kind == Choice && len(f.Options) == 0 {
		found = append(found, "a choice needs options")
	}
	values := map[string]bool{}
	for _, o := range f.Options {
		if o.Value == "" || values[o.Value] {
			found = append(found, fmt.Sprintf("option %q: values must differ and not be empty", o.Value))
		}
		values[o.Value] = true
		if !s.holds(o.Rect) || !f.Rect.holds(o.Rect) {
			found = append(found, fmt.Sprintf("option %s lies outside its field", o.Value))
		}
	}
	return found
}

// longestName is that of a file, after which layouts are called.
const longestName = 255

// strange reports whether a name is none that pages, papers and terminals can show: it may have come from anybody's file.
func strange(name string) bool {
	return utf8.RuneCountInString(name) > longestName || strings.ContainsFunc(name, func(r rune) bool { return printable(r) != r })
}

// canPrint reports whether all of an item's numbers are real and on the side or near it.
func (s *Side) canPrint(p PrintItem) bool {
	const near MM = 30 // words may run over the edge; nothing is harmed by that
	side := Rect{W: s.W, H: s.H}.Grow(near)
	ps := append(append([]SheetPoint{p.At}, p.Line...), p.Poly...)
	if p.Box != nil {
		ps = append(ps, SheetPoint{X: p.Box.X, Y: p.Box.Y}, SheetPoint{X: p.Box.X + p.Box.W, Y: p.Box.Y + p.Box.H})
	}
	for _, q := range ps {
		if !side.Contains(q) {
			return false
		}
	}
	within := func(v, least, most float64) bool { return v >= least && v <= most } // false for NaN
	return within(float64(p.Size), 0, 60) && within(float64(p.Width), 0, 20) && within(float64(p.Room), 0, 500) &&
		within(p.Grey, 0, 1) && within(p.Fill, 0, 1) && within(p.Turn, -360, 360)
}

// holds reports whether r is a real rectangle inside the side.
func (s *Side) holds(r Rect) bool {
	for _, v := range []MM{r.X, r.Y, r.W, r.H} {
		if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
			return false
		}
	}
	return r.W > 0 && r.H > 0 && r.X >= 0 && r.Y >= 0 && r.X+r.W <= s.W+0.01 && r.Y+r.H <= s.H+0.01
}

// holds reports whether o lies in r, give or take the rounding of a hundredth.
func (r Rect) holds(o Rect) bool {
	g := r.Grow(0.02)
	return o.X >= g.X && o.Y >= g.Y && o.X+o.W <= g.X+g.W && o.Y+o.H <= g.Y+g.H
}

func same(a, b MM) bool { return math.Abs(float64(a-b)) < 0.005 }

// weaknesses are those that a reader could live with and a judge or a chief could not.
func (l *Layout) weaknesses() []fault {
	var found []fault
	add := func(noun, format string, args ...any) {
		found = append(found, fault{noun: noun, text: fmt.Sprintf(format, args...)})
	}
	parts := map[Part]bool{}
	unnamed := 0
	for i := range l.Sides {
		s := &l.Sides[i]
		if n := len(s.Marks); n > 0 && n < 4 {
			add("", "side %s: %d marks: with fewer than 4 a side can't be straightened", s.Name, n)
		}
		for _, f := range s.Fields {
			if f.Row > 0 || f.Part != PartBib {
				parts[f.Part] = true
			}
			if f.Part == PartUnnamed {
				unnamed++
			}
			if f.Row > 0 && f.Part == PartCode && f.onlyNumbered() {
				found = append(found, atField(s, f, fmt.Sprintf("the %d boxes are only numbered, and say no code: give each the letter of the code book that a mark in it stands for", len(f.Options))))
			}
			if f.Part != "" && !slices.Contains(Parts, f.Part) { // a weakness: a layout of a race that was admitted so must still open
				found = append(found, atField(s, f, fmt.Sprintf("unknown part %q: nothing that is written there counts; known are %v", f.Part, Parts)))
			}
			if w, h, ok := f.tooSmall(); ok {
				found = append(found, atField(s, f, fmt.Sprintf("%.1f × %.1f mm is too small for a %s; at least %.1f × %.1f%s",
					float64(w), float64(h), f.Kind, float64(least[f.Kind].w), float64(least[f.Kind].h), f.asOneBox())))
			}
		}
		for _, pair := range s.overlaps() {
			add(pair[1], "side %s: %s and %s overlap", s.Name, pair[0], pair[1])
		}
	}
	if unnamed > 0 {
		are := "fields are"
		if unnamed == 1 {
			are = "field is"
		}
		add("", "%d %s still %s: say what each is for", unnamed, are, PartUnnamed)
	}
	if !parts[PartBib] {
		add("", "no bib column: no row can name a racer")
	}
	if parts[PartBib] {
		found = append(found, l.twoPlaces()...)
		found = append(found, l.nobodysRows()...)
		found = append(found, l.ofNoRow()...)
		found = append(found, l.unlikeOthers()...)
		found = append(found, l.otherBoxes()...)
		found = append(found, l.otherOrder()...)
		found = append(found, l.rowsBehind()...)
		found = append(found, l.panelLetters()...)
	}
	for _, why := range l.printedTwice() {
		add("", "%s", why)
	}
	for i := range l.Sides {
		s := &l.Sides[i]
		beside := s.besideAnother()
		found = append(found, beside...)
		if len(beside) == 0 {
			found = append(found, s.across()...)
			found = append(found, s.upwards()...)
		}
		found = append(found, s.calledOtherwise()...)
	}
	if l.Style != EveryRacer && !parts[PartCode] && !parts[PartCodeOther] && !parts[PartPassed] {
		add("", "no column for what happened (code): no row can say it; round places to tick and words to ring aren't found, draw them")
	}
	if !parts[PartGateFrom] || !parts[PartGateTo] {
		add("", "no gate range in the header: a card without a placing list can't be bound to its gates")
	}
	if parts[PartPassed] && !parts[PartCode] && !parts[PartCodeOther] {
		add("", "no column for faults beside the marks for passing: whatever sign stands in such a box counts as a racer who came by; "+
			"if judges put a fault there as another sign, faults would be lost")
	}
	return found
}

// onlyNumbered reports whether the options of a choice are called 1, 2 and so on, as those of boxes that were joined are until
// somebody says what they stand for.
func (f Field) onlyNumbered() bool {
	for i, o := range f.Options {
		if o.Value != strconv.Itoa(i+1) {
			return false
		}
	}
	return f.Kind == Choice && len(f.Options) > 0
}

// tooSmall returns the size of the smallest part that a person must hit, and whether it is too small.
func (f Field) tooSmall() (w, h MM, small bool) {
	limit, ok := least[f.Kind]
	if !ok {
		return 0, 0, false
	}
	w, h = f.Rect.W, f.Rect.H
	if f.Kind == Comb && f.Boxes > 0 {
		w /= MM(f.Boxes)
	}
	for _, o := range f.Options {
		w, h = min(w, o.Rect.W), min(h, o.Rect.H)
	}
	return w, h, w < limit.w-0.01 || h < limit.h-0.01
}

// asOneBox says so where a cell that is too small would do for one digit.
func (f Field) asOneBox() string {
	one := f
	one.Kind, one.Boxes = Comb, 1
	if _, _, small := one.tooSmall(); f.Kind != Cell || small {
		return ""
	}
	return "; if one digit stands there, fill it as a comb of one box"
}

// mostOverlaps is of how many pairs a person is told: in somebody's file thousands of fields may lie on each other.
const mostOverlaps = 200

// overlaps returns the pairs of fields, marks and identities that share paper, and boxes within a field.
func (s *Side) overlaps() [][2]string {
	type named struct {
		name string
		rect Rect
	}
	var all []named
	for _, f := range s.Fields {
		all = append(all, named{"field " + f.Name, f.Rect.Grow(-0.02)})
	}
	for _, m := range s.Marks {
		all = append(all, named{fmt.Sprintf("mark %d", m.ID), m.Rect.Grow(1)}) // with its white
	}
	for i, r := range s.Identity {
		all = append(all, named{fmt.Sprintf("identity %d", i+1), r.Grow(0.85)}) // with its white
	}
	var found [][2]string
	for i, a := range all {
		for _, b := range all[i+1:] {
			if a.rect.Overlaps(b.rect) {
				found = append(found, [2]string{a.name, b.name})
			}
			if len(found) >= mostOverlaps {
				return found
			}
		}
	}
	for _, f := range s.Fields {
		for i, a := range f.Options {
			for _, b := range f.Options[i+1:] {
				if a.Rect.Grow(-0.02).Overlaps(b.Rect) {
					found = append(found, [2]string{"field " + f.Name + " option " + a.Value, "option " + b.Value})
				}
			}
		}
	}
	return found
}
