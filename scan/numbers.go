package scan

import (
	"image"
	"math"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// Sheets of one list are alike but for the bibs in print. A photo of the second sheet lies well on the first one's blank, and
// each mark on it would be another racer's. So the numbers themselves are held against the blank, each in its place:
//
//	number on the blank, number on the page --correlation, of the whole and of each digit--> how well the worst of them fits
//	one doesn't fit                         --> its row is in doubt: struck out, written over, or covered
//	most don't fit                          --> another sheet of the list, or a photo that doesn't show which
//
// On 14 simulated photos of one list (bibs of three digits, 5 ordinary and 9 hard) the middle number fits by 0.98 and more on its own blank, and by
// 0.82 and less on those of other sheets, also where one digit differs. leastNumber was put between, so these photos bound nothing.
// On fresh ones (TestPages_PhotosOfAnotherSheet_NeverLieOnThisOne, -list-photos 12 -list-seed 70000) of four lists, 0 of 38 of another sheet were taken
// for it, and 0 of 48 of the sheet itself refused for their bibs.
const (
	leastNumber   = 0.9
	numberReach   = 0.8  // mm that a number may lie off
	numberEdge    = 1.5  // mm from a field's edge, within which a line is taken for the box's
	numberInk     = 0.12 // of black, that a digit has at least
	numberLine    = 0.6  // of the field's length, from which print is a line
	leastNumbers  = 2    // on a side, from which they say which sheet it is
	numberBlank   = 0.15 // mm, the blur that both get: photos differ in sharpness,
	numberPage    = 0.2  // and the sharpest of them most from a blank that is drawn soft
	mostDigits    = 6    // what falls into more pieces is grain, or no number
	numberBesides = 1    // px round a digit
)

// numberFit says how well one bib in print fits what the blank has in its place.
type numberFit struct {
	field string
	fit   float64 // -1 to 1
}

// numbersFit returns it for each row's bib in print, without those of which the blank shows nothing. page is the straightened side.
func (f *face) numbersFit(page gocv.Mat) ([]numberFit, error) {
	var bibs []*sheetmodel.Field
	for i := range f.side.Fields {
		if _, ok := f.side.Fields[i].PrintedBib(); ok && f.side.Fields[i].Row > 0 {
			bibs = append(bibs, &f.side.Fields[i])
		}
	}
	if len(bibs) == 0 {
		return nil, nil
	}
	form := gocv.NewMatWithSize(f.blank.h, f.blank.w, gocv.MatTypeCV8U)
	defer form.Close()
	pix, err := form.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	for i, v := range f.blank.ink {
		pix[i] = uint8(255 * (1 - min(max(v, 0), 1)))
	}
	shown := gocv.NewMat()
	defer shown.Close()
	gocv.Resize(page, &shown, image.Pt(f.blank.w, f.blank.h), 0, 0, gocv.InterpolationArea)
	gocv.GaussianBlur(form, &form, image.Pt(0, 0), numberBlank*blankPxPerMM, numberBlank*blankPxPerMM, gocv.BorderReplicate)
	gocv.GaussianBlur(shown, &shown, image.Pt(0, 0), numberPage*blankPxPerMM, numberPage*blankPxPerMM, gocv.BorderReplicate)
	var fits []numberFit
	reach := int(math.Round(numberReach * blankPxPerMM))
	for _, b := range bibs {
		window := f.blank.withinLines(b.Rect)
		digits := f.blank.pieces(window)
		if len(digits) == 0 || len(digits) > mostDigits {
			continue
		}
		fit, at := fitsNear(form, shown, window, reach, image.Point{})
		for _, d := range digits {
			one, _ := fitsNear(form, shown, d, 1, at)
			fit = min(fit, one)
		}
		fits = append(fits, numberFit{b.Name, fit})
	}
	return fits, nil
}

// fitsNear returns how well what a form has in a window fits what a page shows by px from there, or up to reach px beside that; and the
// shift at which it does best. A window that reaches over the page's edge fits nowhere.
func fitsNear(form, page gocv.Mat, window image.Rectangle, reach int, by image.Point) (float64, image.Point) {
	around := window.Add(by).Inset(-reach).Intersect(image.Rect(0, 0, page.Cols(), page.Rows()))
	if around.Dx() < window.Dx() || around.Dy() < window.Dy() {
		return 0, image.Point{}
	}
	cut, shown := form.Region(window), page.Region(around)
	defer cut.Close()
	defer shown.Close()
	scores, mask := gocv.NewMat(), gocv.NewMat()
	defer scores.Close()
	defer mask.Close()
	gocv.MatchTemplate(shown, cut, &scores, gocv.TmCcoeffNormed, mask)
	_, best, _, at := gocv.MinMaxLoc(scores)
	return float64(best), around.Min.Add(at).Sub(window.Min)
}

// withinLines returns the px of a field without the lines of its box.
func (b *blank) withinLines(r sheetmodel.Rect) image.Rectangle {
	from := sheetmodel.PageFromSheet(sheetmodel.SheetPoint{X: r.X, Y: r.Y}, blankPxPerMM)
	to := sheetmodel.PageFromSheet(sheetmodel.SheetPoint{X: r.X + r.W, Y: r.Y + r.H}, blankPxPerMM)
	all := image.Rect(int(from.X), int(from.Y), int(math.Ceil(to.X)), int(math.Ceil(to.Y))).Intersect(image.Rect(0, 0, b.w, b.h))
	in := all
	edge := min(int(math.Round(numberEdge*blankPxPerMM)), all.Dx()/3, all.Dy()/3)
	const beside = 2 // px that a line's blur reaches
	for i := range edge {
		if x := all.Min.X + i; b.line(x, all.Min.Y, 0, 1, all.Dy()) {
			in.Min.X = x + beside
		}
		if x := all.Max.X - edge + i; b.line(x, all.Min.Y, 0, 1, all.Dy()) && x-beside < in.Max.X {
			in.Max.X = x - beside + 1
		}
		if y := all.Min.Y + i; b.line(all.Min.X, y, 1, 0, all.Dx()) {
			in.Min.Y = y + beside
		}
		if y := all.Max.Y - edge + i; b.line(all.Min.X, y, 1, 0, all.Dx()) && y-beside < in.Max.Y {
			in.Max.Y = y - beside + 1
		}
	}
	return in
}

// line reports whether most of n px from (x, y) on are dark.
func (b *blank) line(x, y, dx, dy, n int) bool {
	dark := 0
	for i := range n {
		if b.ink[(y+i*dy)*b.w+x+i*dx] >= numberInk {
			dark++
		}
	}
	return float64(dark) >= numberLine*float64(n)
}

// pieces returns what stands side by side in a window with paper between, from left to right: digits, if they don't touch.
func (b *blank) pieces(window image.Rectangle) []image.Rectangle {
	var out []image.Rectangle
	var one image.Rectangle
	for x := window.Min.X; x <= window.Max.X; x++ {
		dark := false
		for y := window.Min.Y; x < window.Max.X && y < window.Max.Y; y++ {
			if b.ink[y*b.w+x] >= numberInk {
				one, dark = one.Union(image.Rect(x, y, x+1, y+1)), true
			}
		}
		if !dark && !one.Empty() {
			out = append(out, one.Inset(-numberBesides).Intersect(window))
			one = image.Rectangle{}
		}
	}
	return out
}

// otherSheet names the rows' bibs in print that a page doesn't show as they were printed. The refusal is of a page of which most are others.
func (f *face) otherSheet(page gocv.Mat, unseen []string) (misfits []string, refusal *RefusedError, err error) {
	fits, err := f.numbersFit(page)
	if err != nil {
		return nil, nil, err
	}
	out := map[string]bool{}
	for _, name := range unseen {
		out[name] = true
	}
	seen := 0
	for _, n := range fits {
		if out[n.field] {
			continue
		}
		seen++
		if n.fit < leastNumber {
			misfits = append(misfits, n.field)
		}
	}
	if seen >= leastNumbers && 2*len(misfits) > seen {
		refusal = refused(FaultPrint, "admit the sheet of the list that it is; if that is this one, take it again, sharp and evenly lit",
			"%d of %d bibs in print are not those of %s", len(misfits), seen, f.layout.Name)
		refusal.otherSheet = true
		return nil, refusal, nil
	}
	return misfits, nil, nil
}
