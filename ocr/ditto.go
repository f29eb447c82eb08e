package ocr

// Ditto marks say "the same bib as above". That is no number, and which row is meant is the judge's to say: two
// short strokes side by side in one box are no digit. An open 4 and an open 0 come closest; both have a bar or an
// arc that joins their strokes.

// What ditto marks look like, lengths in mm: common practice, no source; wide enough for a cold hand.
const (
	dittoLow, dittoHigh = 1.0, 4.2 // height of both together
	dittoWide           = 4.8      // width, at most
	dittoTwice          = 0.6      // of their rows show two strokes, at least
	dittoApart          = 0.7      // from middle to middle, on average
	dittoBar            = 1.5      // a longer run of ink joins the strokes of a digit
)

// ditto reports whether a box of the comb holds two strokes that may be ditto marks.
func (m *inkMap) ditto(c comb) bool {
	n := len(c.ink.boxes)
	for i := range n {
		if px := m.ofBox(c.ink.own, c.field.Rect, i, n); len(px) > 0 && m.cutOut(px).ditto() {
			return true
		}
	}
	return false
}

// ditto looks at the ink row by row.
func (c cut) ditto() bool {
	w, h := float64(c.w-2)/inkPxPerMM, float64(c.h-2)/inkPxPerMM
	if h < dittoLow || h > dittoHigh || w > dittoWide || c.shutIn() > 0 {
		return false
	}
	rows, twice, apart := 0, 0, 0.0
	for y := 1; y < c.h-1; y++ {
		var middles []float64
		start := -1
		for x := range c.w {
			on := c.ink[y*c.w+x]
			switch {
			case on && start < 0:
				start = x
			case !on && start >= 0:
				if float64(x-start) > dittoBar*inkPxPerMM {
					return false
				}
				middles = append(middles, float64(start+x)/2)
				start = -1
			}
		}
		rows++
		if len(middles) == 2 {
			twice++
			apart += middles[1] - middles[0]
		}
	}
	return float64(twice) >= dittoTwice*float64(rows) && apart >= dittoApart*inkPxPerMM*float64(twice)
}
