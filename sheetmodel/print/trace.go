package print

import (
	"image"

	"gatefold/sheetmodel"
)

const traceSteps = 4 // of darkness between paper and black

// Trace returns print items that RasterBlank draws as img shows them: filled boxes, one for each piece of one darkness.
//
// img is a blank side upright at pxPerMM, paper white but for its grain; it stays the caller's. So a card that nobody
// drew here has print like any other, as good as its picture. Differences below an eighth of black are lost, and what
// does not stand out of the grain.
func Trace(img *image.Gray, pxPerMM float64) []sheetmodel.PrintItem {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	dark := printOf(img, pxPerMM)
	step := func(x, y int) int { return (traceSteps*int(dark[y*w+x]) + 127) / 255 }
	type run struct{ x0, x1, dark, top int }
	var items []sheetmodel.PrintItem
	mm := func(v int) sheetmodel.MM { return sheetmodel.MM(float64(v) / pxPerMM) }
	var open []run // runs of the row above, which go on where the next row has the same
	end := func(r run, y int) {
		box := sheetmodel.Rect{X: mm(r.x0), Y: mm(r.top), W: mm(r.x1 - r.x0), H: mm(y - r.top)}
		items = append(items, sheetmodel.PrintItem{Box: &box, Fill: float64(r.dark) / traceSteps})
	}
	for y := range h {
		var row []run
		for x := 0; x < w; {
			d, x0 := step(x, y), x
			for x < w && step(x, y) == d {
				x++
			}
			if d > 0 {
				row = append(row, run{x0, x, d, y})
			}
		}
		i := 0
		for _, o := range open {
			for i < len(row) && row[i].x0 < o.x0 {
				i++
			}
			if i < len(row) && row[i].x0 == o.x0 && row[i].x1 == o.x1 && row[i].dark == o.dark {
				row[i].top = o.top
				continue
			}
			end(o, y)
		}
		open = row
	}
	for _, o := range open {
		end(o, h)
	}
	return items
}
