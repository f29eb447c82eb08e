package strips

import (
	"fmt"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// The types of a header's lines, of the sizes that the gate card has. They are drawn for figures only: their texts
// come from Options.Text, and no net has learned from them.
const (
	Phone Type = "phone"
	Date  Type = "date"
	Name  Type = "name"
)

// NewHeaderBench makes a side with lines as in the gate card's header instead of rows: judge 48 mm, phone 32.6 mm and
// date 28 mm wide, 7 mm high.
func NewHeaderBench() (*Bench, error) {
	l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{})
	if err != nil {
		return nil, fmt.Errorf("header bench: %w", err)
	}
	front := l.Side(sheetmodel.Front)
	b := &Bench{Side: &sheetmodel.Side{Name: sheetmodel.Front, W: front.W, H: front.H, Marks: front.Marks}}
	const high, apart = 7, 14
	for i, y := 0, sheetmodel.MM(60); y+high < front.H-16; i, y = i+1, y+apart {
		x := sheetmodel.MM(8)
		for _, t := range []Type{Name, Phone, Date} {
			w := map[Type]sheetmodel.MM{Name: 48, Phone: 32.6, Date: 28}[t]
			if x+w > front.W-6 {
				break
			}
			f := sheetmodel.Field{
				Name: fmt.Sprintf("%s-%d", t, i), Kind: sheetmodel.Text, Grammar: sheetmodel.GrammarFree,
				Rect: sheetmodel.Rect{X: x, Y: y, W: w, H: high},
			}
			b.Side.Fields, b.fields = append(b.Side.Fields, f), append(b.fields, benchField{f, t})
			x += w + 2.6
		}
	}
	b.paper = print.RasterBlank(b.Side, benchPxPerMM)
	return b, nil
}
