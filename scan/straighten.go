package scan

import (
	"math"
	"sort"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// Options say how to straighten; the zero value is the default.
type Options struct {
	PxPerMM float64 // of the page, 0: 8
}

func (o Options) pxPerMM() float64 {
	if o.PxPerMM == 0 {
		return 8
	}
	return o.PxPerMM
}

// Found is one side of a card as found in a photo by its marks.
type Found struct {
	Side     sheetmodel.SideName
	Identity *sheetmodel.Identity // nil: can't be read
	Marks    int                  // marks seen
	MarksOf  int                  // marks printed
	PxPerMM  float64              // mean over the card
	Corners  [4]sheetmodel.PhotoPoint

	paper sheetMap
	face  *face
	group group
	like  []*face // faces the marks alone would allow, face first
}

const (
	levelForPrint = 4.5  // px/mm at which print is matched
	levelForMarks = 1300 // px, longer side: 6 px a module of a card that fills the picture
)

// witnessed returns the median and 95th percentile distance, in mm, by which witnesses miss the map along
// the directions their print can tell, and the share of all places in a w × h picture that were seen.
func witnessed(places []place, paper *sheetMap, w, h int) (p50, p95, seen float64) {
	var miss []float64
	n, all := 0, 0
	for i := range places {
		p := &places[i]
		if at := paper.at(p.patch.center); at.X < 0 || at.Y < 0 || at.X > float64(w) || at.Y > float64(h) {
			continue
		}
		all++
		if !p.seen {
			continue
		}
		n++
		if !p.witness {
			continue
		}
		miss = append(miss, math.Sqrt(p.missed2(paper.bend)))
	}
	if len(miss) == 0 {
		return math.Inf(1), math.Inf(1), 0
	}
	sort.Float64s(miss)
	return miss[len(miss)/2], miss[len(miss)*95/100], float64(n) / float64(all)
}

// Straighten returns one found side upright and flat.
//
// photo is the picture that found comes from, 8-bit grey as Decode returns it; it stays the caller's,
// unchanged. The Page is the caller's to close.
//
// The error is a *RefusedError if the card can't be trusted to be straight, and an
// *UnknownLayoutError if none of the forms it was found with is its layout. Straighten never returns a
// Page it doubts.
// Safe for concurrent use. Accuracy: scan/report.md.
func Straighten(photo gocv.Mat, found Found, opt Options) (*Page, error) {
	pyr, err := newPyramid(photo, levelForMarks/2)
	if err != nil {
		return nil, err
	}
	defer pyr.close()
	return straighten(pyr, found, opt)
}
