package crop

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A sign is shown in the middle of its box, without its neighbours and whatever side lines the field has. Our own logic.
func TestSign_OfAStrip_StandsAloneInTheMiddle(t *testing.T) {
	var s Strip
	for i := range s {
		s[i] = Tone(0)
	}
	stroke := func(x0, x1, y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := x0; x < x1; x++ {
				s[y*StripW+x] = 200
			}
		}
	}
	stroke(30, 32, 0, StripH) // the field's side
	stroke(40, 44, 14, 34)
	stroke(60, 70, 14, 34)
	cut := s.Between(42, 64)
	assert.Greater(t, cut, 44)
	assert.LessOrEqual(t, cut, 60)
	for _, c := range []struct{ from, to, at, first, last int }{
		{0, cut, 42, 18, 22}, {cut, StripW, 64, 15, 25},
	} {
		cell := s.Sign(c.from, c.to, c.at)
		first, last := CellW, -1
		for x := range CellW {
			if x != 8 && x != 9 && cell[20*CellW+x] == 200 { // there the side line may be
				first, last = min(first, x), max(last, x+1)
			}
		}
		assert.Equal(t, [2]int{c.first, c.last}, [2]int{first, last})
	}
}
