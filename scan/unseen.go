package scan

import (
	"math"
	"sort"

	"gatefold/sheetmodel"
)

// Why print that should be seen isn't. The halves of a patch tell, left, right, upper and lower:
//
//	one shows no print and is at the end of the scale    glare
//	one shows no print otherwise                         something lies over it
//	all show print, one much brighter than its other     a shadow's edge
//	all show some                                        smeared, wet or written over
type unseen struct {
	places []place
	why    []FlawKind // of each place, empty: seen, or no loss
	rest   *remaining
}

const (
	glareGrey  = 248.0 // grey levels: what a phone makes of a reflection, sharpening and JPEG allowed for
	shadowStep = 1.25  // brightness of one half to the other's: the palest shadow of the levels
	halfShown  = 0.3   // correlation below which half a patch shows no print
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

// half is what is summed over half a patch.
type half struct{ n, g, gg, i, ii, gi float64 }

// shows returns the correlation of grey with paper; a half without print or without any contrast has none.
func (h *half) shows() float64 {
	vg, vi := h.gg/h.n-h.g/h.n*h.g/h.n, h.ii/h.n-h.i/h.n*h.i/h.n
	if vi < 0.05 || h.n < 20 {
		return 1 // no print there to miss
	}
	return -(h.gi/h.n - h.g/h.n*h.i/h.n) / math.Sqrt(max(vg, 4)*vi)
}

// unseen says why the place's print can't be seen; grey is room to work in.
func (p *place) unseen(paper *sheetMap, v *view, grey []float64) (FlawKind, []float64) {
	t := paper.tangent(v, p.patch.center)
	var halves [4]half // left, right, upper, lower
	for i := range p.patch.fine {
		s := &p.patch.fine[i]
		g, ink := v.grey(t.at(float64(s.dx), float64(s.dy))), float64(s.ink)
		grey = append(grey, g)
		for k, in := range sides(s) {
			if h := &halves[k]; in {
				*h = half{h.n + 1, h.g + g, h.gg + g*g, h.i + ink, h.ii + ink*ink, h.gi + g*ink}
			}
		}
	}
	least, step := 0, 1.0
	for k := range halves {
		if halves[k].shows() < halves[least].shows() {
			least = k
		}
		if o := &halves[k^1]; halves[k].n > 0 && o.n > 0 {
			step = max(step, (halves[k].g/halves[k].n+1)/(o.g/o.n+1))
		}
	}
	if halves[least].shows() >= halfShown {
		if step >= shadowStep {
			return FlawShadow, grey
		}
		return FlawFaint, grey
	}
	var lost []float64
	for i := range p.patch.fine {
		if sides(&p.patch.fine[i])[least] {
			lost = append(lost, grey[i])
		}
	}
	sort.Float64s(lost)
	if lost[len(lost)/2] >= glareGrey {
		return FlawGlare, grey
	}
	return FlawCovered, grey
}

// sides says in which halves of its patch a sample lies: left, right, upper, lower.
func sides(s *sample) [4]bool { return [4]bool{s.dx < 0, s.dx >= 0, s.dy < 0, s.dy >= 0} }

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
