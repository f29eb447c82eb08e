package scan

import (
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// seenMark is a registration mark found in a photo.
type seenMark struct {
	id      int
	corners [4]sheetmodel.PhotoPoint // top left, top right, bottom right, bottom left of the mark as printed
	center  sheetmodel.PhotoPoint
	size    float64 // mean side, px of the photo
	misread int     // modules read otherwise than printed, 0 or 1
	clear   float64 // grey levels between its black and its white
}

const (
	minMarkContrast = 14 // grey levels: print at a third of its blackness in a dark photo
	maxMisread      = 1  // sheetmodel.MarkDistance is 5: two misread could be another mark's three
)

// findMarks returns the marks seen in one level, each once.
func findMarks(v *view) []seenMark { return marksOf(v, findSquares(v)) }

// marksOf returns the marks among squares, each once.
func marksOf(v *view, squares []square) []seenMark {
	var marks []seenMark
	for _, q := range squares {
		sharp, ok := q.sharpen(v)
		if !ok {
			sharp = q
		}
		if m, ok := readMark(v, sharp); ok {
			marks = addMark(marks, m)
		}
	}
	return marks
}

// addMark adds m unless the same mark is there already; of two at one place the clearer stays.
func addMark(marks []seenMark, m seenMark) []seenMark {
	for i, o := range marks {
		if distance(m.center, o.center) < 0.5*max(m.size, o.size) {
			if m.misread < o.misread || m.misread == o.misread && m.clear > o.clear {
				marks[i] = m
			}
			return marks
		}
	}
	return append(marks, m)
}

func distance(a, b sheetmodel.PhotoPoint) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }

// readMark samples a square's modules and names the mark.
//
// Black is what the frame shows, white the paper just outside it: both lie within a module or two of
// what they are compared with, so shade across the card does not matter.
func readMark(v *view, q square) (m seenMark, ok bool) {
	const n = sheetmodel.MarkModules
	var pairs []PointPair
	for i, c := range [4][2]float64{{0, 0}, {n, 0}, {n, n}, {0, n}} {
		pairs = append(pairs, PointPair{
			Sheet: sheetmodel.SheetPoint{X: sheetmodel.MM(c[0]), Y: sheetmodel.MM(c[1])},
			Photo: sheetmodel.PhotoPoint{X: q[i].x, Y: q[i].y},
		})
	}
	h, fits := fitHomography(pairs)
	if !fits {
		return m, false
	}
	module := func(x, y float64) float64 {
		sum := 0.0
		for _, d := range [5][2]float64{{0, 0}, {-.2, -.2}, {.2, -.2}, {-.2, .2}, {.2, .2}} {
			p := h.at(sheetmodel.SheetPoint{X: sheetmodel.MM(x + 0.5 + d[0]), Y: sheetmodel.MM(y + 0.5 + d[1])})
			sum += v.grey(p.X, p.Y)
		}
		return sum / 5
	}
	var frame, paper []float64
	for i := range n {
		f := float64(i)
		paper = append(paper, module(f, -1), module(f, n), module(-1, f), module(n, f))
		frame = append(frame, module(f, 0), module(f, n-1))
		if i > 0 && i < n-1 {
			frame = append(frame, module(0, f), module(n-1, f))
		}
	}
	slices.Sort(frame)
	slices.Sort(paper)
	black, white := frame[len(frame)/2], paper[len(paper)/2]
	if white-black < minMarkContrast {
		return m, false
	}
	// All but one module of the frame must be nearer to black than to white.
	if frame[len(frame)-2] > (black+white)/2 {
		return m, false
	}
	var seen uint16
	for y := 1; y < n-1; y++ {
		for x := 1; x < n-1; x++ {
			seen <<= 1
			if module(float64(x), float64(y)) < (black+white)/2 {
				seen |= 1
			}
		}
	}
	id, turned, misread := sheetmodel.MarkFromPattern(seen)
	if misread > maxMisread {
		return m, false
	}
	m = seenMark{id: id, misread: misread, clear: white - black}
	for i := range 4 {
		// A pattern turned clockwise by one quarter has its printed top left corner at the square's second corner.
		c := q[(i+turned)%4]
		m.corners[i] = v.photo(c.x, c.y)
		m.size += q.side(i) / v.sx / 4
	}
	center := q.center()
	m.center = v.photo(center.x, center.y)
	return m, true
}
