package scantest

import (
	"image"
	"image/color"
	"math"

	"gatefold/sheetmodel"
)

// TagFamily names square tags of a published family, printed where the corner marks are.
type TagFamily string

// The families. A tag is as large as the mark whose place it takes; the further marks are left out.
const (
	ArUco    TagFamily = "aruco-4x4"
	AprilTag TagFamily = "apriltag-36h11"
)

// tagPatterns holds tags 0 to 3: the modules inside the black frame, row by row from the top left, the first in
// the highest bit; 1 is black. They are what OpenCV 4.6 draws of DICT_4X4_50 and DICT_APRILTAG_36h11.
var tagPatterns = map[TagFamily]struct {
	modules int // along a side, without the frame
	bits    [4]uint64
}{
	ArUco:    {4, [4]uint64{0x4acd, 0xf065, 0xccd2, 0x66b9}},
	AprilTag: {6, [4]uint64{0xde5eb9454, 0x6d2e70164, 0x8f76feb44, 0xe6c6861d8}},
}

// TagPlaces returns where tags 0 to 3 are printed: top left, top right, bottom right, bottom left.
func TagPlaces(side *sheetmodel.Side) [4]sheetmodel.Rect {
	var out [4]sheetmodel.Rect
	for i, corner := range [4]sheetmodel.SheetPoint{{}, {X: side.W}, {X: side.W, Y: side.H}, {Y: side.H}} {
		nearest := math.Inf(1)
		for _, m := range side.Marks {
			c := m.Rect.Center()
			if d := math.Hypot(float64(c.X-corner.X), float64(c.Y-corner.Y)); d < nearest {
				nearest, out[i] = d, m.Rect
			}
		}
	}
	return out
}

// print replaces the marks of a printed side by tags.
func (f TagFamily) print(paper *image.Gray, side *sheetmodel.Side, pxPerMM float64) {
	for _, m := range side.Marks {
		paint(paper, m.Rect.Grow(0.2), pxPerMM, func(_, _ float64) bool { return false })
	}
	family := tagPatterns[f]
	all := float64(family.modules + 2)
	for id, place := range TagPlaces(side) {
		paint(paper, place, pxPerMM, func(u, v float64) bool {
			column, row := int(u*all)-1, int(v*all)-1
			if column < 0 || row < 0 || column >= family.modules || row >= family.modules {
				return true
			}
			return family.bits[id]>>(family.modules*family.modules-1-row*family.modules-column)&1 == 1
		})
	}
}

// paint fills rect with black and white; black is asked at shares of its width and height. A pixel half covered
// by black is half black.
func paint(img *image.Gray, rect sheetmodel.Rect, pxPerMM float64, black func(u, v float64) bool) {
	const fine = 4
	x0, y0 := float64(rect.X)*pxPerMM, float64(rect.Y)*pxPerMM
	w, h := float64(rect.W)*pxPerMM, float64(rect.H)*pxPerMM
	for y := int(y0); y < int(math.Ceil(y0+h)); y++ {
		for x := int(x0); x < int(math.Ceil(x0+w)); x++ {
			sum, old := 0, int(img.GrayAt(x, y).Y)
			for k := range fine * fine {
				u := (float64(x) + (float64(k%fine)+0.5)/fine - x0) / w
				v := (float64(y) + (float64(k/fine)+0.5)/fine - y0) / h
				switch {
				case u < 0 || v < 0 || u >= 1 || v >= 1:
					sum += old
				case !black(u, v):
					sum += 255
				}
			}
			img.SetGray(x, y, color.Gray{Y: uint8((sum + fine*fine/2) / (fine * fine))})
		}
	}
}
