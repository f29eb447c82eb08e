package ocr

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// row makes a choice of panels whose boxes are darker than their like by the given thousandths.
func row(e *excess, dark ...float64) sheetmodel.Field {
	f := sheetmodel.Field{Kind: sheetmodel.Choice, Part: sheetmodel.PartPanel}
	for i, d := range dark {
		o := sheetmodel.Option{Value: string(rune('B' + i)), Rect: sheetmodel.Rect{X: sheetmodel.MM(6 * i), W: 5, H: 7}}
		f.Options = append(f.Options, o)
		e.of[o.Rect] = d
	}
	return f
}

func TestAloneInRow(t *testing.T) {
	pale := sight{mark: unsure, why: sheetmodel.Doubt{Kind: sheetmodel.DoubtFaintInk}}
	inked := pale
	inked.area = 1.4 // mm²: strokes are seen
	crossed := sight{mark: unsure, area: 1.4, why: sheetmodel.Doubt{Kind: sheetmodel.DoubtOutsideBox}}
	plain, none := sight{mark: marked, area: 3}, sight{}
	// Spread 2 thousandths: a box stands out from 15 on, 11 above the next. The limits' source: report.md.
	for _, c := range []struct {
		name  string
		dark  [4]float64
		sees  [4]sight
		marks int // plain marks on the side
		want  int // -1: none
	}{
		{"a pale mark", [4]float64{0, 17, 1, -1}, [4]sight{none, pale, none, none}, 5, 1},
		{"a plain mark beside a shaded box", [4]float64{7, 25, 1, -1}, [4]sight{pale, plain, none, none}, 5, 1},
		{"two pale marks", [4]float64{12, 17, 1, -1}, [4]sight{pale, pale, none, none}, 5, -1},
		{"strokes in two boxes", [4]float64{5, 25, 1, -1}, [4]sight{inked, plain, none, none}, 5, -1},
		{"ink that crosses another box", [4]float64{5, 25, 1, -1}, [4]sight{crossed, plain, none, none}, 5, -1},
		{"ink that leaves the darkest box", [4]float64{0, 25, 1, -1}, [4]sight{none, crossed, none, none}, 5, -1},
		{"no darker than grain makes some", [4]float64{0, 14, 1, -1}, [4]sight{none, pale, none, none}, 5, -1},
		{"much paler than plain marks", [4]float64{0, 17, 1, -1}, [4]sight{none, pale, none, none}, 40, -1},
		{"no plain marks to compare with", [4]float64{0, 17, 1, -1}, [4]sight{none, pale, none, none}, 0, -1},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := &excess{of: map[sheetmodel.Rect]float64{}, spread: 2, mark: 25, n: c.marks}
			if c.marks > 10 {
				e.mark = 60
			}
			pg := &page{faint: e}
			f := row(e, c.dark[:]...)
			e.odd = map[sheetmodel.Rect]float64{f.Options[1].Rect: oddLeast + 1}
			got, ok := pg.aloneInRow(f, c.sees[:])
			assert.Equal(t, c.want >= 0, ok)
			if ok {
				assert.Equal(t, c.want, got)
			}
			// Its letter looks as in other rows, and no ink is seen: dark it may be, marked it isn't.
			e.odd[f.Options[1].Rect] = oddLeast
			_, ok = pg.aloneInRow(f, c.sees[:])
			assert.Equal(t, c.want >= 0 && c.sees[1].area > 0, ok)
		})
	}
}

func TestSpreadOf_MarkedBoxesDontWiden(t *testing.T) {
	e := &excess{of: map[sheetmodel.Rect]float64{}}
	var rows [][]sheetmodel.Rect
	for n := range 10 {
		var boxes []sheetmodel.Rect
		for k := range 6 {
			b := sheetmodel.Rect{X: sheetmodel.MM(k), Y: sheetmodel.MM(n), W: 1, H: 1}
			e.of[b] = 2 * float64((7*n+11*k)%9-4) // -8 to 8, evenly
			if k == n%6 {
				e.of[b] = 60
			}
			boxes = append(boxes, b)
		}
		rows = append(rows, boxes)
	}
	wide := e.spreadOf(rows)
	assert.InDelta(t, 5.2, wide, 1.6, "of an even spread over 16 the deviation is 4.6, with a sixth marked a little more")
	for _, boxes := range rows {
		for _, b := range boxes {
			e.of[b] *= 2
		}
	}
	assert.InDelta(t, 2*wide, e.spreadOf(rows), 1e-9)
	assert.Zero(t, e.spreadOf(rows[:2]), "too few boxes tell nothing")
}
