package crop

// Sign is one sign of a strip as the net of cells sees a box: the columns from one to another, px of the strip, the last of them not
// part of it, around the middle of its ink. at is a column where the sign surely is; what lies signReach beside it is another's.
// What stands beside the sign is clean paper.
func (s *Strip) Sign(from, to, at int) [CellW * CellH]byte {
	from, to = max(0, from, at-signReach), min(StripW, to, at+signReach)
	left := s.middle(from, to) - CellW/2
	clean := Tone(0)
	var out [CellW * CellH]byte
	for i := range out {
		out[i] = clean
		if x := left + i%CellW; x >= from && x < to {
			out[i] = s[i/CellW*StripW+x]
		}
	}
	return out
}

// middle is the middle column of the ink between two columns; a line that runs from top to bottom is the field's own.
func (s *Strip) middle(from, to int) int {
	first, last := to, from
	for x := from; x < to; x++ {
		if ink, high := s.inkAt(x); ink > leastColumn && high < lineRows {
			first, last = min(first, x), max(last, x)
		}
	}
	if first > last {
		return (from + to) / 2
	}
	return (first + last + 1) / 2
}

const (
	signReach   = 18 // px, 4.5 mm
	leastColumn = 60 // of tone, summed over a column: about two px of pale pencil
	inkTone     = 24 // above paper, from which a px counts
	rimRows     = 7  // of the strip above and below: the lines of the field
	lineRows    = 30 // of those between them, from which a column is a line
)

// inkAt sums how much darker than paper a column is, and counts over how many px.
func (s *Strip) inkAt(x int) (sum, high int) {
	clean := int(Tone(0))
	for y := rimRows; y < StripH-rimRows; y++ {
		if v := int(s[y*StripW+x]) - clean; v >= inkTone {
			sum, high = sum+v, high+1
		}
	}
	return sum, high
}

// Between returns the column between two places, px, that has the least ink: the middle one of those that have as little.
func (s *Strip) Between(a, b int) int {
	least, first, last := -1, a, a
	for x := max(0, a+1); x < min(b, StripW); x++ {
		switch ink, _ := s.inkAt(x); {
		case least < 0 || ink < least:
			least, first, last = ink, x, x
		case ink == least && last == x-1:
			last = x
		}
	}
	return (first + last + 1) / 2
}
