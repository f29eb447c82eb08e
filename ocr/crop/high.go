package crop

import "gatefold/sheetmodel"

// What of a high field is shown: the cell net sees one of more than 9 mm smaller than any digit that it was taught by boxes, and
// people write no larger for a higher row. Chosen on 300 hard photos of a card with rows of 12.5 mm by calibration writers (ocr/report.md).
const (
	highFromMM = 10.0 // a field higher than this is looked at twice
	highRimMM  = 1.0  // of it that the first look leaves out, all around; the strip's own rim brings half of the lines back
	bandRimMM  = 0.5  // that the second leaves out
	bandMM     = 9.0  // height of the second look, around its ink
)

// Looks returns the parts of a field that are to be shown to the cell net one by one, in sheet mm: the field itself, or of a high one
// two that show its ink larger: all of it but its rim, and the band in which its ink stands.
func Looks(p Page, field sheetmodel.Rect) []sheetmodel.Rect {
	if field.H <= highFromMM || field.W <= 4*highRimMM {
		return []sheetmodel.Rect{field}
	}
	inner, band := field.Grow(-highRimMM), field.Grow(-bandRimMM)
	if band.H > bandMM {
		s := TakeStrip(p, inner)
		middle := inner.Center().Y + sheetmodel.MM((s.inkMiddle()-StripH/2)/stripScale(inner))
		top, bottom := band.Y, band.Y+band.H-bandMM
		band.Y, band.H = min(max(middle-bandMM/2, top), bottom), bandMM
	}
	return []sheetmodel.Rect{inner, band}
}

// inkMiddle is the middle row of a strip's ink, px from its top; its own where there is none. What runs from top to bottom is a line.
func (s *Strip) inkMiddle() float64 {
	clean := int(Tone(0))
	sum, mass := 0, 0
	for x := range StripW {
		if _, high := s.inkAt(x); high >= lineRows {
			continue
		}
		for y := rimRows; y < StripH-rimRows; y++ {
			if v := int(s[y*StripW+x]) - clean; v >= inkTone {
				sum, mass = sum+v*(2*y+1), mass+v
			}
		}
	}
	if mass < leastColumn {
		return StripH / 2
	}
	return float64(sum) / float64(2*mass)
}
