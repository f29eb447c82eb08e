package review

import (
	"fmt"
	"strings"
)

// strip is a course as a drawing, start at the left, finish at the right, in units of its own viewBox:
//
//	y  6..34   the racer's line, weaving through the gates
//	y 46..78   one bar a card, above the gates it watches; two lanes where cards overlap
//	y 84       gate numbers
type strip struct {
	W, H  float64
	Line  string // SVG path of the racer's line
	Poles []pole
	Bars  []bar
	Holes []bar
	Twice []bar
	ID    string // tells its patterns from those of the page's other drawings
	Words string // for whoever can't see the drawing

	gates []string
	lanes [2]int // last gate used in each lane
	holes []string
	twice []string
}

type pole struct {
	X, Y  float64
	Red   bool
	Label string // empty: none is printed
}

type bar struct {
	X, Y, W, H float64
	Label      string
	Class      string // in, missing, closed
}

const (
	stripW    = 1000.0
	stripEdge = 24.0
)

func newStrip(gates []string) *strip {
	s := &strip{W: stripW, H: 104, gates: gates, lanes: [2]int{-1, -1}}
	var line strings.Builder
	fmt.Fprintf(&line, "M 0 20")
	x0, y0 := 0.0, 20.0
	step := 1
	for len(gates)/step > 12 {
		step++
	}
	for i := range gates {
		x, y := s.x(i), 11.0
		if i%2 == 1 {
			y = 29
		}
		// The line runs outside each pole: turn poles stand inside the turn.
		ly := y - 5
		if i%2 == 1 {
			ly = y + 5
		}
		mid := (x0 + x) / 2
		fmt.Fprintf(&line, " C %.1f %.1f %.1f %.1f %.1f %.1f", mid, y0, mid, ly, x, ly)
		x0, y0 = x, ly
		p := pole{X: x, Y: y, Red: i%2 == 0}
		if i == 0 || i == len(gates)-1 || i%step == 0 && len(gates)-1-i >= step {
			p.Label = gates[i]
		}
		s.Poles = append(s.Poles, p)
	}
	fmt.Fprintf(&line, " C %.1f %.1f %.1f 20 %.1f 20", (x0+stripW)/2, y0, (x0+stripW)/2, stripW)
	s.Line = line.String()
	return s
}

// x is where gate i stands.
func (s *strip) x(i int) float64 {
	if len(s.gates) < 2 {
		return stripW / 2
	}
	return stripEdge + (stripW-2*stripEdge)*float64(i)/float64(len(s.gates)-1)
}

// half is half the distance between gates.
func (s *strip) half() float64 {
	if len(s.gates) < 2 {
		return stripEdge
	}
	return (stripW - 2*stripEdge) / float64(len(s.gates)-1) / 2
}

func (s *strip) span(from, to int) (x, w float64) {
	const gap = 1.5 // between neighbours
	// Where gates stand far apart, half the way to the next one is more than there is beside the first and the last.
	x = max(s.x(from)-s.half(), 0) + gap
	return x, min(s.x(to)+s.half(), stripW) - gap - x
}

func (s *strip) bar(from, to, card int, in, closed bool) {
	x, w := s.span(from, to)
	lane := 0
	if s.lanes[0] >= from && s.lanes[1] < from {
		lane = 1
	}
	s.lanes[lane] = max(s.lanes[lane], to)
	b := bar{X: x, Y: 46 + float64(lane)*19, W: w, H: 17, Label: fmt.Sprint(card), Class: "missing"}
	switch {
	case in:
		b.Class = "in"
	case closed:
		b.Class = "closed"
	}
	s.Bars = append(s.Bars, b)
}

func (s *strip) hole(from, to int) {
	x, w := s.span(from, to)
	s.Holes = append(s.Holes, bar{X: x, Y: 46, W: w, H: 17, Label: "?", Class: "hole"})
	s.holes = append(s.holes, gateWords(s.gates[from:to+1], s.gates))
}

// doubles marks gates that two cards watch and writes the drawing's words.
func (s *strip) doubles(watched []int) {
	for i, n := range watched {
		if n > 1 {
			x, w := s.span(i, i)
			s.Twice = append(s.Twice, bar{X: x, Y: 42, W: w, H: 44})
			s.twice = append(s.twice, s.gates[i])
		}
	}
	s.Words = "The course from start to finish, gates " + gateWords(s.gates, s.gates) + "."
	if len(s.holes) > 0 {
		s.Words += " Nobody's card covers " + strings.Join(s.holes, ", ") + "."
	}
	if len(s.twice) > 0 {
		s.Words += " Watched from two cards: " + strings.Join(s.twice, ", ") + "."
	}
}
