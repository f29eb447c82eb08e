package strips

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"slices"

	"gatefold/scan/camera/fill"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// Bench is a printed side full of cells and combs to write in.
type Bench struct {
	Side   *sheetmodel.Side
	paper  *image.Gray
	fields []benchField
}

type benchField struct {
	sheetmodel.Field
	typ Type
}

// benchPxPerMM shows a pencil's grain.
const benchPxPerMM = fill.InkPxPerMM

// High is the variant of a bench whose rows are all high enough to be looked at twice (crop.Looks).
const High = math.MaxUint64

// highRows are its heights, mm, in turn. Cards of other makes have such rows; nobody writes larger for it.
var highRows = []sheetmodel.MM{10.5, 11.5, 12.5, 13.5, 15}

// NewBench prints a bench side. Variant 0 is the one that figures are measured on, its sizes those of the
// gate card's fields; High is the same with higher rows; the others draw their sizes, for teaching.
func NewBench(variant uint64) (*Bench, error) {
	l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{})
	if err != nil {
		return nil, fmt.Errorf("bench side: %w", err)
	}
	front := l.Side(sheetmodel.Front)
	b := &Bench{Side: &sheetmodel.Side{Name: sheetmodel.Front, W: front.W, H: front.H, Marks: front.Marks}}
	rng := rand.New(rand.NewPCG(variant, 0xbe7c4))
	y, end := sheetmodel.MM(60), front.H-16
	for row := 1; ; row++ {
		h, gap := sheetmodel.MM(9.5), sheetmodel.MM(0)
		switch {
		case variant == High:
			h = highRows[(row-1)%len(highRows)]
		case variant > 0:
			h = sheetmodel.MM(7 + 5.5*rng.Float64()) // cards of other makes have rows up to 12 mm high
			if rng.IntN(2) == 0 {
				gap = sheetmodel.MM(0.5 + 3*rng.Float64())
			}
		}
		if y+h > end {
			break
		}
		b.row(row, y, h, front.W-6, variant, rng)
		y += h + gap
	}
	b.paper = print.RasterBlank(b.Side, benchPxPerMM)
	return b, nil
}

// row lays one row of fields of all types.
func (b *Bench) row(row int, y, h, wide sheetmodel.MM, variant uint64, rng *rand.Rand) {
	if variant == High {
		variant = 0 // fields as wide as ever
	}
	order := []Type{Comb, Bib, Gate, Range, CodeGate, Code}
	width := map[Type]sheetmodel.MM{Comb: 24, Bib: 20, Gate: 15, Range: 26, CodeGate: 26, Code: 12}
	x, gap := sheetmodel.MM(6), sheetmodel.MM(0.6)
	if variant > 0 {
		rng.Shuffle(len(order), func(i, j int) { order[i], order[j] = order[j], order[i] })
		gap = sheetmodel.MM(1.5 * rng.Float64())
	}
	for i, t := range order {
		w := width[t]
		boxes := 0
		if t == Comb {
			boxes = 3
		}
		if variant > 0 {
			w *= sheetmodel.MM(0.8 + 0.6*rng.Float64())
			if t == Comb {
				boxes = 1 + rng.IntN(4)
				w = sheetmodel.MM(float64(boxes) * (6.2 + 2.3*rng.Float64()))
			}
		}
		if x+w > wide {
			break
		}
		f := sheetmodel.Field{
			Name: fmt.Sprintf("row-%d.%d", row, i), Part: sheetmodel.PartCodeOther, Kind: sheetmodel.Cell, Row: row,
			Rect: sheetmodel.Rect{X: x, Y: y, W: w, H: h}, Grammar: GrammarOf(t),
		}
		if t == Comb {
			f.Kind, f.Boxes = sheetmodel.Comb, boxes
		}
		x += w + gap
		if slices.ContainsFunc(b.Side.Marks, func(m sheetmodel.Mark) bool { return m.Rect.Grow(1).Overlaps(f.Rect) }) {
			continue // a registration mark stands there
		}
		b.Side.Fields = append(b.Side.Fields, f)
		b.fields = append(b.fields, benchField{f, t})
	}
}

// GrammarOf returns the grammar that a field of the type has.
func GrammarOf(t Type) sheetmodel.Grammar {
	switch t {
	case Bib, Comb:
		return sheetmodel.GrammarBib
	case Gate, Range:
		return sheetmodel.GrammarGate
	case CodeGate:
		return sheetmodel.GrammarCodeGate
	case Code:
		return sheetmodel.GrammarCode
	case Panel:
		return sheetmodel.GrammarPanel
	case Phone, Date, Name:
	}
	return sheetmodel.GrammarFree
}
