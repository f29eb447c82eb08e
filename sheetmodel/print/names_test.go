package print_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// A race may be called anything; the form must stay whole.
func TestCards_OddNames_ArePrintedAndStayInTheirRoom(t *testing.T) {
	l := bound(t, larch())
	for _, name := range []string{
		"", "Детский кубок", "Κύπελλο", "雪の杯", "Larch \U0001F3D4 Cup", "a\x00b\nc\td", "(unbalanced \\ parenthesis",
		"The Seventeenth Annual Larch Valley and Upper Meadows Children's Cup in Memory of Nobody in Particular",
	} {
		card := larchCard(l, 1, 7)
		card.Race, card.Course = name, name
		var out bytes.Buffer
		_, err := print.Cards(&out, print.Job{Title: name, Created: raceDay, Stacks: []print.Stack{{Layout: l, Cards: []print.CardPrint{card}}}})
		require.NoError(t, err)
		require.True(t, bytes.HasPrefix(out.Bytes(), []byte("%PDF-")))
		for i := range l.Sides {
			side := &l.Sides[i]
			const pxPerMM = 8
			img, err := print.Raster(side, card, pxPerMM)
			require.NoError(t, err)
			blank := print.RasterBlank(side, pxPerMM)
			for _, f := range side.Fields {
				if f.Kind == sheetmodel.Printed {
					continue
				}
				for y := f.Rect.Y; y < f.Rect.Y+f.Rect.H; y += 0.25 {
					for x := f.Rect.X; x < f.Rect.X+f.Rect.W; x += 0.25 {
						p := sheetmodel.PageFromSheet(sheetmodel.SheetPoint{X: x, Y: y}, pxPerMM)
						px, py := int(p.X+0.5), int(p.Y+0.5)
						require.Equal(t, blank.GrayAt(px, py), img.GrayAt(px, py), "%q runs into %s", name, f.Name)
					}
				}
			}
		}
		assert.NotEmpty(t, out.Bytes())
	}
}
