package scan

import (
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// How far a field may still lie from where the page shows it. Six things tell, each at a field's corners:
//
//	error <= e^w0 · claimed^w1 · missed^w2 · (2 + away)^w3 · bent^w4 · pxPerMM^w5 · slanted^w6 · (lost + 0.05)^w7
//
// claimed is the error that the last fit claims for itself, missed the distance by which the print round the
// field misses the map that was fitted to it, away the distance to the nearest print that was seen, bent how
// much the paper curves there: a crease is ironed out a little; slanted is by how much fewer px than the card has a mm
// has there, the way the view shortens most, and lost the share of the print round it that should be seen and isn't.
// A power law, because the errors of flat and
// of crumpled paper are a factor of fifty apart.
//
// The powers are a quantile regression (Koenker & Bassett, Econometrica 46, 1978) on fields of scantest's development
// seeds, made anew by scantest.TestErrorPowers; scan/estimate.md has what came of it. So the estimate is some two times
// what is true in the middle, and knows no less than 0.01 mm.
var remainingPowers = [8]float64{0.483, 0.343, 0.421, 0.613, 0.368, -0.155, 0.502, 0.071}

// awayPower is the distance's place among remainingPowers.
const awayPower = 3

const (
	missedReach = 14.0  // mm, standard deviation of the weight of print round a corner
	bentReach   = 7.0   // mm: half the spacing of control points
	leastTold   = 0.004 // mm: what each of them can't tell from nothing
	// lostMM stands for "not known": no print was seen within reach.
	lostMM = 10.0
)

// remaining estimates the errors of one page's map.
type remaining struct {
	places  []place
	paper   *sheetMap
	bend    *spline
	pxPerMM float64
	holds   *held                                // on a form without marks
	claims  map[sheetmodel.SheetPoint]float64    // fields share corners, and a claim costs the most
	known   map[sheetmodel.SheetPoint]cornerTold // the same
}

func newRemaining(places []place, paper *sheetMap, pxPerMM float64) *remaining {
	bend, _ := paper.bend.(*spline)
	return &remaining{places: places, paper: paper, bend: bend, pxPerMM: pxPerMM, claims: map[sheetmodel.SheetPoint]float64{}, known: map[sheetmodel.SheetPoint]cornerTold{}}
}

// claimed returns the standard deviation that the fit claims at c, mm.
func (r *remaining) claimed(c sheetmodel.SheetPoint) float64 {
	s, ok := r.claims[c]
	if !ok {
		s = r.bend.sigma(c)
		r.claims[c] = s
	}
	return s
}

// of returns the error, in mm, that the corners of rect stay below in 95 of 100 fields, and what it is told from;
// lostMM and nil if nothing is known of them.
func (r *remaining) of(rect sheetmodel.Rect) (errorMM float64, signs []float64) {
	told, ok := r.told(rect)
	if !ok {
		return lostMM, nil
	}
	sum := 0.0
	for i, w := range remainingPowers {
		sum += w * told[i]
	}
	if r.holds != nil {
		sum += remainingPowers[awayPower] * max(0, math.Log(2+r.far(rect))-told[awayPower])
	}
	return min(math.Exp(sum), lostMM), told[:]
}

// cornerTold is what is known at one point.
type cornerTold struct {
	missed2, away, slanted, lost, claimed, bent float64
	ok                                          bool
}

// at returns what is known at c.
func (r *remaining) at(c sheetmodel.SheetPoint) cornerTold {
	t, known := r.known[c]
	if known {
		return t
	}
	if t.missed2, t.away, t.ok = r.missed2(c); t.ok {
		t.slanted, t.lost, t.claimed, t.bent = r.slanted(c), r.lost(c), r.claimed(c), r.bent(c)
	}
	r.known[c] = t
	return t
}

// told returns the logarithms that remainingPowers stand for, 1 for the first.
func (r *remaining) told(rect sheetmodel.Rect) (told [len(remainingPowers)]float64, ok bool) {
	var claimed, away, bent, missed2, lost float64
	slanted := 1.0
	for _, c := range corners(rect) {
		t := r.at(c)
		if !t.ok {
			return told, false
		}
		slanted, lost = max(slanted, t.slanted), max(lost, t.lost)
		claimed, bent = max(claimed, t.claimed), max(bent, t.bent)
		away, missed2 = max(away, t.away), missed2+t.missed2/5
	}
	if m, _, ok := r.missed2(rect.Center()); ok {
		missed2 += m / 5
	}
	log := func(v2 float64) float64 { return math.Log(math.Sqrt(leastTold*leastTold + v2)) }
	return [...]float64{1, log(claimed * claimed), log(missed2), math.Log(2 + away), log(bent * bent), math.Log(r.pxPerMM),
		math.Log(slanted), math.Log(lost + 0.05)}, true
}

// What holds a corner: print within reach of it that is seen and fixes the paper both ways.
const (
	heldReach  = 14.0 // mm
	unheldLost = 3    // places not seen, from which those that are seen must be more
	unheldRoom = 0.5  // of the room, that the estimate may take where they are not
	drawnOn    = 40.0 // mm, beyond which print doesn't hold a corner from its other side, and what counts as its distance then
	farReach   = 20.0 // mm to print that holds a corner the worst way, from which the same goes for a form without marks
)

// unheld reports whether a corner of rect lies where more of the print round it is lost than seen: there the map is
// drawn on from elsewhere, and what the fit claims of it says nothing of a fold that nobody saw.
func (r *remaining) unheld(rect sheetmodel.Rect) bool {
	for _, c := range corners(rect) {
		lost, seen := 0, 0
		for i := range r.places {
			p := &r.places[i]
			if !p.patch.twoWays() || sheetDistance(p.patch.center, c) > heldReach {
				continue
			}
			if p.seen {
				seen++
			} else if p.inside {
				lost++
			}
		}
		if lost >= unheldLost && lost > seen {
			return true
		}
	}
	return false
}

// held knows what print holds the paper, and which ways. remainingPowers come from our own card, on which print that holds
// both ways is never far; a card of another make has frames with nothing in them, and lines to write on that hold nothing
// along themselves for 40 mm. So there the distance that counts is that to print which holds a corner the worst way, and
// print that may have slid holds nothing.
type held struct {
	places []sheetmodel.SheetPoint
	ways   [][heldWays]bool
}

const heldWays = 8 // directions, 22.5 degrees apart

func newHeld(places []place) *held {
	slid := map[*place]bool{}
	for _, p := range suspects(places) {
		slid[p] = true
	}
	h := &held{}
	for i := range places {
		p := &places[i]
		if !p.seen || slid[p] {
			continue
		}
		h.places = append(h.places, p.patch.center)
		h.ways = append(h.ways, p.patch.ways())
	}
	return h
}

// at returns how far the print is, in mm, that holds c the worst way; infinite if none holds it so, and drawnOn at least where
// none within drawnOn holds it on one side, across or down: there the map is drawn on, by a slope and a bend that nothing checks.
func (h *held) at(c sheetmodel.SheetPoint) float64 {
	var nearest [heldWays]float64
	for k := range nearest {
		nearest[k] = math.Inf(1)
	}
	var onSide [2][2]bool // across and down, before and after c
	for i, p := range h.places {
		d := sheetDistance(p, c)
		for k, holds := range h.ways[i] {
			if holds {
				nearest[k] = min(nearest[k], d)
			}
		}
		if d > drawnOn {
			continue
		}
		// A patch's line may run at its edge. Only these two directions: aslant nothing lies beyond any corner of a table.
		for axis, by := range [2]sheetmodel.MM{p.X - c.X, p.Y - c.Y} {
			if h.ways[i][axis*heldWays/2] {
				onSide[axis][0] = onSide[axis][0] || by < patchSize/2
				onSide[axis][1] = onSide[axis][1] || by > -patchSize/2
			}
		}
	}
	worst := slices.Max(nearest[:])
	for _, sides := range onSide {
		if !sides[0] || !sides[1] {
			worst = max(worst, drawnOn)
		}
	}
	return worst
}

// far returns how far the print is, in mm, that holds the corners of rect the worst way; 0 on a form with marks. A line
// to write on is far from any that holds it along itself, and has no box to miss there.
func (r *remaining) far(rect sheetmodel.Rect) float64 {
	far := 0.0
	if r.holds != nil {
		for _, c := range corners(rect) {
			far = max(far, r.holds.at(c))
		}
	}
	return far
}

// slanted returns how many times fewer px than on the card as a whole a mm has at c, the way it has fewest.
func (r *remaining) slanted(c sheetmodel.SheetPoint) float64 {
	const d = 2 // mm
	a, b := r.paper.at(sheetmodel.SheetPoint{X: c.X - d, Y: c.Y}), r.paper.at(sheetmodel.SheetPoint{X: c.X + d, Y: c.Y})
	e, f := r.paper.at(sheetmodel.SheetPoint{X: c.X, Y: c.Y - d}), r.paper.at(sheetmodel.SheetPoint{X: c.X, Y: c.Y + d})
	xu, yu, xv, yv := (b.X-a.X)/(2*d), (b.Y-a.Y)/(2*d), (f.X-e.X)/(2*d), (f.Y-e.Y)/(2*d)
	// The smaller singular value of the slopes.
	sum, det := xu*xu+yu*yu+xv*xv+yv*yv, xu*yv-yu*xv
	least := math.Sqrt(max(sum/2-math.Sqrt(max(sum*sum/4-det*det, 0)), 0))
	return min(r.pxPerMM/max(least, 1e-3), 20)
}

// lost returns the share of the print round c that is in the picture and was not seen.
func (r *remaining) lost(c sheetmodel.SheetPoint) float64 {
	var lost, all float64
	for i := range r.places {
		p := &r.places[i]
		if !p.seen && !p.inside {
			continue
		}
		if d, near := within(p.patch.center, c, 3*missedReach); near {
			w := math.Exp(-d * d / (2 * missedReach * missedReach))
			all += w
			if !p.seen {
				lost += w
			}
		}
	}
	if all == 0 {
		return 1
	}
	return lost / all
}

// missed2 returns the mean square of the distances, in mm, by which print round c misses the map, along the
// directions it can tell, and how far the nearest of it is.
func (r *remaining) missed2(c sheetmodel.SheetPoint) (square, away float64, ok bool) {
	const reach = 3 * missedReach
	var sum, weights float64
	away = math.Inf(1)
	for i := range r.places {
		p := &r.places[i]
		if !p.seen {
			continue
		}
		d, near := within(p.obs.p, c, reach)
		if !near {
			continue
		}
		away = min(away, d)
		w := math.Exp(-d * d / (2 * missedReach * missedReach))
		weights += w
		sum += w * p.missed2(r.bend)
	}
	return sum / weights, away, weights > 0
}

// missed2 returns the square of the distance, in mm, by which the place misses a map, along the directions
// its print can tell.
func (p *place) missed2(bend displacement) float64 {
	dx, dy := bend.at(p.obs.p)
	dx, dy = dx-p.obs.d[0], dy-p.obs.d[1]
	// Both axes count by how well the patch knows them.
	k := max(p.obs.info[0], p.obs.info[2])
	return (p.obs.info[0]*dx*dx + 2*p.obs.info[1]*dx*dy + p.obs.info[2]*dy*dy) / k
}

// bent returns the larger second difference of the map round c, mm.
func (r *remaining) bent(c sheetmodel.SheetPoint) float64 {
	x, y := r.bend.at(c)
	worst := 0.0
	for _, d := range [2]sheetmodel.SheetPoint{{X: bentReach}, {Y: bentReach}} {
		xa, ya := r.bend.at(sheetmodel.SheetPoint{X: c.X + d.X, Y: c.Y + d.Y})
		xb, yb := r.bend.at(sheetmodel.SheetPoint{X: c.X - d.X, Y: c.Y - d.Y})
		worst = max(worst, math.Hypot(xa+xb-2*x, ya+yb-2*y))
	}
	return worst
}

// room returns by how many mm a field may lie elsewhere with its ink still in its box: a third of the way
// from the middle of its smallest box to the edge that the box shares with the next.
func room(f *sheetmodel.Field) float64 {
	w, h := float64(f.Rect.W), float64(f.Rect.H)
	if f.Boxes > 1 {
		w /= float64(f.Boxes)
	}
	least := min(w, h)
	for _, o := range f.Options {
		least = min(least, float64(o.Rect.W), float64(o.Rect.H))
	}
	// A drawing has no box to miss, but what is cut off it is evidence.
	return min(least/6, roomAtMost)
}

const roomAtMost = 1.0 // mm
