package ocr

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/crop"
	"gatefold/sheetmodel"
)

// told is a mark net that claims what the first px of a picture says, in percent.
type told struct{}

func (told) Mark(box *crop.Mark) (float32, error) { return float32(box[0]) / 100, nil }
func (told) Weights() string                      { return "" }
func (told) Close() error                         { return nil }

// Beside a code's plain mark, what is no more than shade goes; what shows ink, what the net is not sure of, what it does not
// know and what is doubted for another reason stays. Our own logic.
func TestWithoutShade_TakesAwayNothingButShade(t *testing.T) {
	faint := sheetmodel.Doubt{Kind: sheetmodel.DoubtFaintInk}
	f := sheetmodel.Field{Name: "row-01.code", Part: sheetmodel.PartCode}
	pg := &page{marks: map[sheetmodel.Rect]*crop.Mark{}}
	sights := []sight{
		{mark: marked, area: 8},
		{mark: unsure, why: faint},                // shade: goes
		{mark: unsure, why: faint, area: dustMM2}, // ink
		{mark: unsure, why: faint},                // the net is not sure
		{mark: unsure, why: faint},                // the net does not know it
		{mark: unsure, why: sheetmodel.Doubt{Kind: sheetmodel.DoubtOutsideBox}}, // ink from elsewhere
		{mark: unsure, why: sheetmodel.Doubt{Kind: sheetmodel.DoubtStruckOut}},  // taken back
	}
	for i := range sights {
		box := sheetmodel.Rect{X: sheetmodel.MM(7 * i), Y: 10, W: 6, H: 6}
		f.Options = append(f.Options, sheetmodel.Option{Value: string(rune('A' + i)), Rect: box})
		if i != 4 {
			pg.marks[box] = &crop.Mark{}
		}
		if i == 3 {
			pg.marks[box][0] = 2
		}
	}
	r := &Reader{marker: told{}}
	left, err := r.withoutShade(pg, f, sights, []int{1, 2, 3, 4, 5, 6})
	require.NoError(t, err)
	assert.Equal(t, []int{2, 3, 4, 5, 6}, left)
}
