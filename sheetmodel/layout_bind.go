package sheetmodel

import (
	"fmt"
	"math"
	"slices"
)

// BindOptions is what a race adds to a template. The zero value gives an A5 card for a race without
// groups and courses, with the built-in code book and bibs of three boxes.
type BindOptions struct {
	Paper         string   // "a5" (default) or "half-letter"
	Codes         CodeBook // empty: BuiltinCodeBook
	Groups        []string // none: the group is written, not ringed
	Courses       []string // none: the course is written, not ringed
	SecondWriting bool     // rows have boxes "same bib once more"
	BibBoxes      int      // 3 (default) or 4
	Spare         bool     // no race, run or course in print; the run is ringed
}

// MaxTickCodes is how many codes can have a tick box in each row: with more the boxes get too
// small for a gloved hand. Further codes are written in the free cell.
const MaxTickCodes = 5

// Bind expands the template for a race and returns the layout as it will be printed, every number
// rounded to 0.01 mm. An error names what does not fit and what to shorten.
func (t *Template) Bind(o BindOptions) (*Layout, error) {
	if o.Paper == "" {
		o.Paper = "a5"
	}
	if o.BibBoxes == 0 {
		o.BibBoxes = 3
	}
	if len(o.Codes.Codes) == 0 {
		o.Codes = BuiltinCodeBook()
	}
	papers, ok := t.Papers[o.Paper]
	if !ok {
		return nil, fmt.Errorf("layout %s: no paper %q", t.Name, o.Paper)
	}
	l := &Layout{Format: t.Format, Name: t.Name, Version: t.Version, Style: t.Style, Paper: o.Paper, Spare: o.Spare}
	for _, st := range t.Sides {
		extent, ok := papers[st.Name]
		if !ok {
			return nil, fmt.Errorf("layout %s: paper %s has no %s", t.Name, o.Paper, st.Name)
		}
		b := binder{options: o, conditions: conditionsOf(o), template: t, extent: extent}
		b.side = Side{Name: st.Name, W: extent.W, H: extent.H, Marks: []Mark{}, Identity: []Rect{}, Fields: []Field{}}
		if err := b.expand(st); err != nil {
			return nil, fmt.Errorf("layout %s, %s: %w", t.Name, st.Name, err)
		}
		l.Sides = append(l.Sides, b.side)
	}
	return l, nil
}

func conditionsOf(o BindOptions) []string {
	pick := func(yes bool, a, b string) string {
		if yes {
			return a
		}
		return b
	}
	return []string{
		pick(o.Spare, "spare", "race"),
		pick(o.SecondWriting, "second-writing", "one-writing"),
		fmt.Sprintf("bib-%d", o.BibBoxes),
		pick(len(o.Groups) > 0, "groups", "no-groups"),
		pick(len(o.Courses) > 0, "courses", "no-courses"),
	}
}

// binder expands one side. All its methods take design coordinates; place and point move them.
type binder struct {
	options    BindOptions
	conditions []string
	template   *Template
	extent     paperExtent
	side       Side
}

func (b *binder) holds(when []string) bool {
	for _, w := range when {
		if !slices.Contains(b.conditions, w) {
			return false
		}
	}
	return true
}

func roundMM(v MM) MM { return MM(math.Round(float64(v)*100) / 100) }

func (b *binder) point(p SheetPoint) SheetPoint {
	return SheetPoint{X: roundMM(p.X + b.extent.X), Y: roundMM(p.Y + b.extent.Y)}
}

func (b *binder) place(r Rect) Rect {
	return Rect{X: roundMM(r.X + b.extent.X), Y: roundMM(r.Y + b.extent.Y), W: roundMM(r.W), H: roundMM(r.H)}
}

func (b *binder) expand(st sideTemplate) error {
	for _, m := range st.Marks {
		rect := b.place(Rect{X: m.X, Y: m.Y, W: st.MarkSize, H: st.MarkSize})
		b.side.Marks = append(b.side.Marks, Mark{ID: m.ID, Rect: rect})
	}
	for _, r := range st.Identity {
		b.side.Identity = append(b.side.Identity, b.place(r))
	}
	for _, f := range st.Fields {
		if !b.holds(f.When) {
			continue
		}
		if err := b.field(f); err != nil {
			return err
		}
	}
	for _, t := range st.Tables {
		if err := b.table(t); err != nil {
			return err
		}
	}
	if st.Panels != nil {
		b.panels(*st.Panels)
	}
	if st.CodeList != nil {
		b.codeList(*st.CodeList)
	}
	for _, p := range st.Print {
		if !b.holds(p.When) {
			continue
		}
		if p.Symbol == "" {
			b.print(p.PrintItem)
			continue
		}
		items, ok := symbol(p.Symbol, p.At)
		if !ok {
			return fmt.Errorf("unknown symbol %q", p.Symbol)
		}
		for _, item := range items {
			b.print(item)
		}
	}
	return nil
}

// print moves an item to the paper and keeps it.
func (b *binder) print(p PrintItem) {
	if p.Text != "" {
		p.At = b.point(p.At)
		p.Size = roundMM(p.Size)
	}
	p.Line = b.points(p.Line)
	p.Poly = b.points(p.Poly)
	if p.Box != nil {
		box := b.place(*p.Box)
		p.Box = &box
	}
	b.side.Print = append(b.side.Print, p)
}

func (b *binder) points(ps []SheetPoint) []SheetPoint {
	var moved []SheetPoint
	for _, p := range ps {
		moved = append(moved, b.point(p))
	}
	return moved
}

func (b *binder) field(f fieldTemplate) error {
	field := Field{
		Name: f.Name, Part: f.Part, Kind: f.Kind, Grammar: f.Grammar, Rect: b.place(f.Rect),
		Boxes: f.Boxes, Rings: f.Rings,
	}
	var words []string
	switch f.Options {
	case "":
	case "groups":
		words = b.options.Groups
	case "courses":
		words = b.options.Courses
	case "runs":
		words = []string{"1", "2"}
	default:
		return fmt.Errorf("field %s: unknown options %q", f.Name, f.Options)
	}
	if f.Options != "" && len(words) == 0 {
		// Nothing to choose from: the judge writes it.
		field.Kind, field.Grammar, field.Rings = Text, GrammarFree, false
	}
	if len(words) > 0 {
		options, err := b.ringWords(f.Rect, words)
		if err != nil {
			return fmt.Errorf("field %s: %w", f.Name, err)
		}
		field.Options = options
	}
	b.side.Fields = append(b.side.Fields, field)
	return nil
}
