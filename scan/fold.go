package scan

import (
	"math"
	"sort"

	"gatefold/sheetmodel"
)

// Over sharp folds. A walk stops where the paper beyond lies otherwise than the paper before says:
//
//	____            a patch beyond the fold is sought where the print on one side of it alone puts it,
//	    \__ fold    then with the slopes a fold can have there;
//	       \        a mark beyond it, left over from finding, is adopted if it lies near enough
//
// All only give new places to walk on from; what they find must fit its neighbours like any other.

// How far an adopted mark may lie from where the paper matched nearest to it would put it.
const (
	adoptSlack      = 3.0  // mm
	adoptSlackShare = 0.25 // of the distance: a fold of 25 degrees seen at 45
	adoptReach      = 60.0 // mm
	adoptTurn       = 0.6  // rad
	adoptScale      = 2.2
)

// What counts as the paper on one side of a place.
const (
	oneSideReach = 34.0 // mm
	oneSideCone  = 0.5  // cosine: within 60 degrees of its direction
	oneSideLeast = 6    // places and corners of marks
	unfair       = 0.05 // correlation below the card's median that a place must explain
)

// lastBold is the score of the last round.
const lastBold = 0.7

// boldShare of the print in the picture found by walking is what no fold cuts off.
const boldShare = 0.98

// crossFolds goes on where the walk has stopped, trying the ways in which the paper may fold there.
func (w *follower) crossFolds(score float64) {
	w.score, w.shift = score, math.Inf(1)
	for i := range w.places {
		w.places[i].boldly = 0 // what is tried depends on the score
	}
	for found := true; found; {
		found = false
		for i := range w.places {
			p := &w.places[i]
			if p.seen {
				continue
			}
			local, beside, ok := w.around(p)
			// A line alone fits anywhere along itself.
			if !ok || beside == p.boldly || !p.patch.twoWays() {
				continue
			}
			p.boldly = beside
			if w.fromOneSide(p) || score <= lastBold && w.fold(p, local) {
				found = true
			}
		}
		w.walk()
		for w.adopt() {
			w.seed(nil)
			w.walk()
		}
	}
}

// fromOneSide matches a place as if the paper on one side of it went on flat under it. Beside a fold that is
// true of one side, and a mean of both sides is true of neither.
func (w *follower) fromOneSide(p *place) bool {
	best, score, ok := w.oneSided(p, -1)
	if !ok || score < w.score {
		return false
	}
	w.measure(p, &sheetMap{flat: w.flat, bend: best}, true)
	return p.seen
}

// oneSided returns the flat piece of paper, of those that the print on either side of a place gives, on which the
// place fits best, and how well. Only print that fits by at least the given score is heard.
func (w *follower) oneSided(p *place, least float64) (best affine, bestScore float64, ok bool) {
	var near []*observation
	for i := range w.places {
		if o := &w.places[i]; o != p && o.seen && o.score >= least && sheetDistance(o.obs.p, p.patch.center) < oneSideReach {
			near = append(near, &o.obs)
		}
	}
	for i := range w.marks {
		if o := &w.marks[i]; sheetDistance(o.p, p.patch.center) < oneSideReach {
			near = append(near, o)
		}
	}
	for turn := range 8 {
		sin, cos := math.Sincos(float64(turn) * math.Pi / 4)
		var side []observation
		for _, o := range near {
			u, v := float64(o.p.X-p.patch.center.X), float64(o.p.Y-p.patch.center.Y)
			if away := math.Hypot(u, v); u*cos+v*sin > oneSideCone*away {
				k := math.Exp(-away * away / (2 * stepReach * stepReach))
				side = append(side, observation{p: o.p, d: o.d, info: [3]float64{k * o.info[0], k * o.info[1], k * o.info[2]}})
			}
		}
		if len(side) < oneSideLeast {
			continue
		}
		try, fits := fitAffine(p.patch.center, side)
		if !fits {
			continue
		}
		paper := sheetMap{flat: w.flat, bend: try}
		t := paper.tangent(w.fine, p.patch.center)
		if !t.inside(w.fine, patchSize/2) {
			continue
		}
		if _, _, score := p.patch.search(w.coarse, &paper, w.net); score > bestScore {
			best, bestScore, ok = try, score, true
		}
	}
	return best, bestScore, ok
}

// contest seeks places anew that fit worse than the card does as a whole and lie beside print that isn't seen:
// boxes in a row look alike, and a walk beyond a fold may have slid along them. What fits better where the
// better print round it puts it was elsewhere, and so were its poor neighbours.
func (w *follower) contest() {
	var scores []float64
	for i := range w.places {
		if p := &w.places[i]; p.seen && p.patch.twoWays() {
			scores = append(scores, p.score)
		}
	}
	if len(scores) == 0 {
		return
	}
	sort.Float64s(scores)
	fair := scores[len(scores)/2] - unfair
	type moved struct {
		place *place
		paper affine
	}
	var better []moved
	for i := range w.places {
		p := &w.places[i]
		if !p.seen || p.score >= fair || !p.patch.twoWays() || !w.besideUnseen(p) {
			continue
		}
		if paper, score, ok := w.oneSided(p, fair); ok && score >= max(p.score+unfair, w.score) {
			better = append(better, moved{p, paper})
		}
	}
	for _, m := range better {
		for i := range w.places {
			if p := &w.places[i]; p.seen && p.score < fair && sheetDistance(p.patch.center, m.place.patch.center) < stepReach {
				p.seen, p.beside = false, 0
			}
		}
	}
	for _, m := range better {
		w.measure(m.place, &sheetMap{flat: w.flat, bend: m.paper}, true)
	}
	if len(better) > 0 {
		w.walk()
	}
}

// besideUnseen reports whether print near the place should be seen and isn't.
func (w *follower) besideUnseen(p *place) bool {
	for i := range w.places {
		if o := &w.places[i]; !o.seen && sheetDistance(o.patch.center, p.patch.center) < oneSideReach {
			return true
		}
	}
	return false
}

// fold matches a place as if the paper were folded between it and what was matched nearest to it: beyond
// the fold it rises or sinks, and the tilted view turns that into a shift that grows with the distance.
func (w *follower) fold(p *place, flat affine) bool {
	from, ok := w.nearest(p)
	if !ok {
		return false
	}
	c := p.patch.center
	nx, ny := float64(c.X-from.X), float64(c.Y-from.Y)
	away := math.Hypot(nx, ny)
	if away == 0 {
		return false
	}
	nx, ny = nx/away, ny/away
	best, bestScore := flat, 0.0
	for turn := range 8 {
		sin, cos := math.Sincos(float64(turn) * math.Pi / 4)
		for _, slope := range [...]float64{0.2, 0.4} {
			try := flat
			x, y := slope*cos, slope*sin
			try.v[0] += x * away / 2
			try.v[1] += x * nx
			try.v[2] += x * ny
			try.v[3] += y * away / 2
			try.v[4] += y * nx
			try.v[5] += y * ny
			paper := sheetMap{flat: w.flat, bend: try}
			t := paper.tangent(w.fine, c)
			if !t.inside(w.fine, patchSize/2) {
				continue
			}
			if _, _, score := p.patch.search(w.coarse, &paper, w.net); score > bestScore {
				best, bestScore = try, score
			}
		}
	}
	if bestScore < w.score {
		return false
	}
	w.measure(p, &sheetMap{flat: w.flat, bend: best}, true)
	return p.seen
}

// nearest returns the matched place nearest to p.
func (w *follower) nearest(p *place) (at sheetmodel.SheetPoint, ok bool) {
	best := math.Inf(1)
	for i := range w.places {
		if o := &w.places[i]; o.seen && o != p {
			if d := sheetDistance(o.patch.center, p.patch.center); d < best {
				best, at, ok = d, o.patch.center, true
			}
		}
	}
	return at, ok
}

// share returns how many of the places that a walk could try are matched.
func (w *follower) share() float64 {
	seen, all := 0, 0
	for i := range w.places {
		p := &w.places[i]
		if p.seen {
			seen++
		}
		if p.seen || p.inside || p.beside == 0 {
			all++ // not tried at all counts, too: nothing led there
		}
	}
	return float64(seen) / float64(max(all, 1))
}

// adopt takes in one of the marks that belong to no card if it is one that the card lacks, and lies and
// is turned about as the paper walked so far says. Beyond a fold there may be no other way on.
func (w *follower) adopt() bool {
	for id, rect := range w.face.marks {
		if w.group.has(id) {
			continue
		}
		local, away, ok := w.beyond(rect.Center())
		if !ok {
			continue
		}
		guess := sheetMap{flat: w.flat, bend: local}
		want := guess.at(rect.Center())
		right := guess.at(sheetmodel.SheetPoint{X: rect.X + rect.W, Y: rect.Y + rect.H/2})
		wx, wy := right.X-want.X, right.Y-want.Y
		reach := (adoptSlack + adoptSlackShare*away) * math.Hypot(wx, wy) / (float64(rect.W) / 2)
		var nearest *seenMark
		for i := range w.group.spare {
			m := &w.group.spare[i]
			mx, my := (m.corners[1].X+m.corners[2].X)/2-m.center.X, (m.corners[1].Y+m.corners[2].Y)/2-m.center.Y
			turned := math.Abs(math.Atan2(wx*my-wy*mx, wx*mx+wy*my))
			scale := math.Hypot(mx, my) / math.Hypot(wx, wy)
			if m.id != id || distance(m.center, want) > reach || turned > adoptTurn || scale > adoptScale || scale < 1/adoptScale {
				continue
			}
			if nearest == nil || distance(m.center, want) < distance(nearest.center, want) {
				nearest = m
			}
		}
		if nearest != nil {
			w.group.marks = append(append([]seenMark(nil), w.group.marks...), *nearest)
			w.marks, _ = markObservations(w.group)
			return true
		}
	}
	return false
}

// beyond fits a flat piece of paper to the six places matched nearest to c, and returns how far the nearest is.
func (w *follower) beyond(c sheetmodel.SheetPoint) (local affine, away float64, ok bool) {
	type neighbour struct {
		obs  *observation
		away float64
	}
	var near []neighbour
	for i := range w.places {
		if p := &w.places[i]; p.seen {
			if d := sheetDistance(p.obs.p, c); d < adoptReach {
				near = append(near, neighbour{&p.obs, d})
			}
		}
	}
	if len(near) < 6 {
		return local, 0, false
	}
	sort.Slice(near, func(i, j int) bool { return near[i].away < near[j].away })
	var obs []observation
	for _, n := range near[:6] {
		obs = append(obs, *n.obs)
	}
	local, ok = fitAffine(c, obs)
	return local, near[0].away, ok
}
