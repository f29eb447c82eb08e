package print

import (
	"fmt"
	"io"
	"time"

	"gatefold/sheetmodel"
)

// TestPage writes a PDF of two pages that shows, before any card is printed, whether the printer
// prints at actual size and turns the paper over the right edge. paper is a layout's paper.
func TestPage(w io.Writer, paperName string, created time.Time) error {
	p, ok := papers[paperName]
	if !ok {
		return fmt.Errorf("print: no sheet for paper %q", paperName)
	}
	out := newPDF("Print test", created)
	for _, back := range []bool{false, true} {
		out.page(p.w, p.h)
		out.draw(testSide(p, back))
	}
	return out.write(w)
}

// testSide is one page of the test. Its arrow lies off the middle, and on the back where the front's
// arrow shines through when the paper was flipped on the short edge, as the cards need it.
func testSide(p paper, back bool) []shape {
	c := &canvas{}
	half := p.w / 2
	x, y, text := half/2, 62.0, half+6
	if back {
		x, text = half+half/2, 12
	}
	say := func(line int, size float64, face sheetmodel.Face, s string) {
		c.write(s, point{text, 30 + float64(line)*6.5}, size, face, sheetmodel.AlignLeft, 0, 0)
	}
	arrow := []point{{0, -26}, {13, -4}, {5, -4}, {5, 26}, {-5, 26}, {-5, -4}, {-13, -4}}
	for i := range arrow {
		arrow[i] = point{arrow[i].x + x, arrow[i].y + y}
	}
	if back {
		c.line(append(arrow, arrow[0]), 0.5, 0)
		c.write("back", point{x, y + 36}, 4, sheetmodel.Bold, sheetmodel.AlignCenter, 0, 0)
		c.ring(point{x, y + 50}, 3)
		say(0, 3, sheetmodel.Bold, "Hold the paper against the light.")
		say(1, 2.4, sheetmodel.Regular, "Both arrows point up and lie on each other: right.")
		say(2, 2.4, sheetmodel.Regular, "One points down: choose “flip on short edge” and try again.")
		say(3, 2.4, sheetmodel.Regular, "No arrow on the other side: switch on two-sided printing,")
		say(4, 2.4, sheetmodel.Regular, "or print the fold-over cards.")
		say(5, 2.4, sheetmodel.Regular, "The cross lies in the ring: good enough to cut.")
		return c.shapes
	}
	c.fill(0, arrow)
	c.write("front", point{x, y + 36}, 4, sheetmodel.Bold, sheetmodel.AlignCenter, 0, 0)
	c.line([]point{{x - 2, y + 50}, {x + 2, y + 50}}, 0.3, 0)
	c.line([]point{{x, y + 48}, {x, y + 52}}, 0.3, 0)
	say(0, 3, sheetmodel.Bold, "Measure both lines: each is 100 mm long.")
	say(1, 2.4, sheetmodel.Regular, "Shorter or longer: choose “actual size”, not “fit to page”.")
	say(2, 2.4, sheetmodel.Regular, "A card that came out smaller is still read, but its boxes")
	say(3, 2.4, sheetmodel.Regular, "are small for cold hands.")
	say(4, 2.4, sheetmodel.Regular, "Of the frame along the edge all four sides must be there.")
	c.ruler(point{text, 78}, 1, 0)
	c.ruler(point{half + 20, 90}, 0, 1)
	c.outline(sheetmodel.Rect{X: 8, Y: 8, W: sheetmodel.MM(p.w) - 16, H: sheetmodel.MM(p.h) - 16}, 0.3, 0.3)
	return c.shapes
}

// ruler draws 100 mm from at, right or down, with a tick each 10 mm.
func (c *canvas) ruler(at point, dx, dy float64) {
	c.line([]point{at, {at.x + 100*dx, at.y + 100*dy}}, 0.25, 0)
	for i := range 11 {
		long := 2.0
		if i%5 == 0 {
			long = 4
		}
		p := point{at.x + float64(i)*10*dx, at.y + float64(i)*10*dy}
		c.line([]point{p, {p.x + long*dy, p.y + long*dx}}, 0.25, 0)
		if i%5 == 0 {
			c.write(fmt.Sprint(i*10), point{p.x + 6*dy, p.y + 8*dx}, 2, sheetmodel.Regular, sheetmodel.AlignLeft, 0, 0)
		}
	}
}

func (c *canvas) ring(at point, r float64) {
	var ps []point
	const corners = 32
	for i := range corners + 1 {
		s, k := sincosTurn(float64(i) / corners)
		ps = append(ps, point{at.x + r*k, at.y + r*s})
	}
	c.line(ps, 0.3, 0)
}
