package scan

import (
	"sort"

	"gatefold/sheetmodel"
)

// Why print that should be seen isn't. A patch of the photo where it should lie tells:
//
//	even its darkest px are at the end of the scale       glare
//	half of it much brighter than the other half          a shadow's edge
//	nothing like the print at all                         something lies over it
//	something like the print                              smeared, wet or written over
type unseen struct {
	places []place
	why    []FlawKind // of each place, empty: seen, or no loss
	rest   *remaining
}

const (
	glareGrey  = 248.0 // grey levels: what a phone makes of a reflection, sharpening and JPEG allowed for
	shadowStep = 1.35  // brightness of one half to the other's: the palest shadow of the levels leaves 1.25
	shadowEven = 0.25  // correlation above which print shows through a shadow's edge
)

func newUnseen(places []place, paper *sheetMap, v *view, rest *remaining) *unseen {
	u := &unseen{places: places, why: make([]FlawKind, len(places)), rest: rest}
	var grey []float64
	for i := range places {
		p := &places[i]
		// Print that fits poorly where its neighbours hold it well is print under writing.
		if !p.inside || p.seen || p.score >= hiddenScore && rest.bend != nil && rest.claimed(p.patch.center) <= underInkSigma {
			continue
		}
		u.why[i], grey = p.unseen(paper, v, grey[:0])
	}
	return u
}

// unseen says why the place's print can't be seen; grey is room to work in.
func (p *place) unseen(paper *sheetMap, v *view, grey []float64) (FlawKind, []float64) {
	t := paper.tangent(v, p.patch.center)
	var sums, counts [4]float64 // left, right, upper, lower half
	for i := range p.patch.fine {
		s := &p.patch.fine[i]
		g := v.grey(t.at(float64(s.dx), float64(s.dy)))
		grey = append(grey, g)
		for k, in := range [4]bool{s.dx < 0, s.dx >= 0, s.dy < 0, s.dy >= 0} {
			if in {
				sums[k], counts[k] = sums[k]+g, counts[k]+1
			}
		}
	}
	sort.Float64s(grey)
	step := 1.0
	for k := 0; k < 4; k += 2 {
		if counts[k] > 0 && counts[k+1] > 0 {
			a, b := sums[k]/counts[k]+1, sums[k+1]/counts[k+1]+1
			step = max(step, a/b, b/a)
		}
	}
	switch {
	case grey[len(grey)/4] >= glareGrey:
		return FlawGlare, grey
	case p.score >= shadowEven && step >= shadowStep:
		return FlawShadow, grey
	case p.score >= shadowEven:
		return FlawFaint, grey
	}
	return FlawCovered, grey
}

// over reports whether print in or beside the field can't be seen, and the commonest reason.
func (u *unseen) over(f *sheetmodel.Field) (hidden bool, why FlawKind) {
	around := f.Rect.Grow(hiddenReach)
	counts := map[FlawKind]int{}
	missing, all := 0, 0
	for i := range u.places {
		if p := &u.places[i]; p.inside && around.Contains(p.patch.center) {
			all++
			if k := u.why[i]; k != "" {
				missing++
				counts[k]++
			}
		}
	}
	for _, k := range [...]FlawKind{FlawCovered, FlawGlare, FlawShadow, FlawFaint} {
		if counts[k] > counts[why] {
			why = k
		}
	}
	// A sketch may well cross its panel's frame here and there; nothing else should lose any.
	return missing > 0 && (f.Kind != sheetmodel.Drawing || 4*missing > all), why
}
