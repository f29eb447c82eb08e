package propose

import (
	"image"

	"gatefold/sheetmodel"
)

// box is a white rectangle with ruled lines on all four sides, in mm.
type box struct {
	rect    sheetmodel.Rect
	px      image.Rectangle
	printed bool            // something is printed in it
	print   image.Rectangle // where, px
	holds   bool            // another box lies in it
}

const (
	ringWhite    = 0.92  // share of a box's own white along its edge: less is no rectangle
	smallestBox  = 2.2   // mm
	edgeMM       = 0.5   // of a box that isn't looked at for print: its lines' blur
	printedShare = 0.004 // of a box: more ink is print
	largestShare = 0.6   // of the card: a larger box is its frame
)

// boxesOf returns the boxes between the lines, top to bottom.
func boxesOf(ink, lines mask, pxPerMM float64) []box {
	label := make([]int32, len(lines.at))
	var found []box
	var next int32
	var stack []int
	for seed := range label {
		if lines.at[seed] || label[seed] != 0 {
			continue
		}
		next++
		x0, y0, x1, y1 := lines.w, lines.h, 0, 0
		stack = append(stack[:0], seed)
		label[seed] = next
		for len(stack) > 0 {
			p := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			x, y := p%lines.w, p/lines.w
			x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
			visit := func(q int, inside bool) {
				if inside && !lines.at[q] && label[q] == 0 {
					label[q] = next
					stack = append(stack, q)
				}
			}
			visit(p-1, x > 0)
			visit(p+1, x < lines.w-1)
			visit(p-lines.w, y > 0)
			visit(p+lines.w, y < lines.h-1)
		}
		if x0 == 0 || y0 == 0 || x1 == lines.w-1 || y1 == lines.h-1 {
			continue
		}
		w, h := float64(x1-x0+1)/pxPerMM, float64(y1-y0+1)/pxPerMM
		if w < smallestBox || h < smallestBox || float64((x1-x0)*(y1-y0)) > largestShare*float64(lines.w*lines.h) {
			continue
		}
		own, all := 0, 0
		look := func(x, y int) {
			all++
			if label[y*lines.w+x] == next {
				own++
			}
		}
		for x := x0; x <= x1; x++ {
			look(x, y0+1)
			look(x, y1-1)
		}
		for y := y0; y <= y1; y++ {
			look(x0+1, y)
			look(x1-1, y)
		}
		if float64(own) < ringWhite*float64(all) {
			continue
		}
		edge, dark, area := int(edgeMM*pxPerMM), 0, 0
		for y := y0 + edge; y <= y1-edge; y++ {
			for x := x0 + edge; x <= x1-edge; x++ {
				area++
				if ink.at[y*lines.w+x] {
					dark++
				}
			}
		}
		mm := func(v int) sheetmodel.MM { return sheetmodel.MM(float64(v) / pxPerMM) }
		found = append(found, box{
			rect:    sheetmodel.Rect{X: mm(x0), Y: mm(y0), W: mm(x1 - x0 + 1), H: mm(y1 - y0 + 1)},
			px:      image.Rect(x0, y0, x1+1, y1+1),
			printed: float64(dark) > printedShare*float64(area),
			print:   ink.bounds(image.Rect(x0, y0, x1+1, y1+1).Inset(edge)),
		})
		// A letter in the corner of a panel is a small share of it.
		if b := &found[len(found)-1]; !b.printed && isPanel(b.rect) && mm(b.print.Dx()) > 1 && mm(b.print.Dy()) > 1 {
			b.printed = true
		}
	}
	for i := range found {
		for j := range found {
			if i != j && inside(found[j].rect, found[i].rect) {
				found[i].holds = true
			}
		}
	}
	return found
}

func inside(in, out sheetmodel.Rect) bool {
	return in.X >= out.X && in.Y >= out.Y && in.X+in.W <= out.X+out.W && in.Y+in.H <= out.Y+out.H
}
