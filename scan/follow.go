package scan

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"gatefold/sheetmodel"
)

// From marks to the whole sheet:
//
//	marks --> patches beside them --> their neighbours, and so on --> spline through all --> matched again
//
// A neighbour is sought where the nearest patches found so far put it, as if the paper were flat just
// there. So a fold or a curl is walked along in steps of 8 mm, however far the far edge has moved; one
// smooth surface through marks alone would miss it by centimetres.

// place is what one patch says of the paper.
type place struct {
	patch   *patch
	obs     observation
	score   float64
	inside  bool    // wholly in the picture
	seen    bool    // matched
	witness bool    // kept out of the fit, to judge it
	aside   bool    // not to be sought now
	beside  int     // how many neighbours guided the last try
	boldly  int     // the same of the last try over a fold
	best    float64 // score of the last try
}

const (
	bendFromMarks = 3000.0 // stiffness while only marks hold the paper: they say little between them
	markSigma     = 0.12   // mm, of a mark's corner
	markSpacing   = 40.0   // mm, control points while only marks are known
	seedReach     = 24.0   // mm from a mark's centre: half a mark and two patches
	stepReach     = 14.0   // mm from a patch to the neighbours that count as found beside it
	minScore      = 0.4    // correlation below which a patch is never taken as seen: hidden, or smeared
	poorScore     = 0.3    // how far below the card's median a score may lie: writing over print, a shadow's edge
	oddShift      = 1.2    // mm from where its neighbours put it, above which a patch is dropped
)

// The best matches are made first, for each one guides its neighbours: print under writing is sought
// when the clean print round it is known. Then a match that is neither good nor near is no match. Folds are
// crossed, at the score bold, before poorer matches are heard: beyond a fold these may slide along a line.
var walkRounds = [...]struct{ score, shift, bold float64 }{
	{0.88, 9, 0}, {0.82, 1.2, 0.82}, {0.75, 1.2, 0.78}, {0.6, 0.8, 0}, {minScore, 0.6, 0.7},
}

// paperFromMarks returns the map that goes through the corners of a group's marks.
func paperFromMarks(g *group) (sheetMap, error) {
	bend := newSpline(g.face.side.W, g.face.side.H, markSpacing)
	obs, ok := markObservations(g)
	if !ok {
		return sheetMap{}, errSingular
	}
	return sheetMap{flat: g.flat, bend: bend}, bend.fit(obs, bendFromMarks)
}

func markObservations(g *group) ([]observation, bool) {
	inv, ok := g.flat.inverse()
	if !ok {
		return nil, false
	}
	var obs []observation
	for _, m := range g.marks {
		rect, _ := g.face.mark(m.id)
		for _, p := range cornerPairs(rect, m) {
			at := inv.back(p.Photo)
			const info = 1 / (markSigma * markSigma)
			obs = append(obs, observation{
				p: p.Sheet, d: [2]float64{float64(at.X - p.Sheet.X), float64(at.Y - p.Sheet.Y)}, info: [3]float64{info, 0, info}, keep: 1,
			})
		}
	}
	for _, p := range g.prints {
		at := inv.back(p.Photo)
		const info = 1 / (seedSigma * seedSigma)
		obs = append(obs, observation{
			p: p.Sheet, d: [2]float64{float64(at.X - p.Sheet.X), float64(at.Y - p.Sheet.Y)}, info: [3]float64{info, 0, info}, keep: 1,
		})
	}
	return obs, true
}

// follower walks over one side.
type follower struct {
	face         *face
	fine, coarse *view
	places       []place
	group        *group
	marks        []observation
	flat         homography
	net          []float32
	near         []neighbour // room for around
	heard        [][]heard   // of twins, by shift and place
	score, shift float64     // what a match must reach, and may move at most, mm
}

// followPrint refines the map of a group's marks by the card's own print.
func followPrint(pyr *pyramid, f *face, start sheetMap, g *group, photoPxPerMM float64) (sheetMap, []place, error) {
	w := &follower{face: f, fine: pyr.at(levelForPrint, photoPxPerMM), coarse: pyr.at(2, photoPxPerMM), flat: g.flat, group: g}
	w.net = make([]float32, coarseRoom)
	patches := f.patches()
	w.places = make([]place, len(patches))
	for i := range w.places {
		w.places[i] = place{patch: &patches[i], witness: i%5 == 2}
	}
	var ok bool
	if w.marks, ok = markObservations(g); !ok {
		return start, w.places, errSingular
	}
	for _, round := range walkRounds {
		w.score, w.shift = round.score, round.shift
		w.seed(&start)
		w.walk()
		for w.adopt() {
			w.seed(nil)
			w.walk()
		}
		if round.bold > 0 && w.share() < boldShare {
			w.crossFolds(round.bold)
			w.contest()
		}
	}
	w.askAll()
	w.dropOdd()
	w.score, w.shift = minScore, math.Inf(1)
	paper := start
	for i, stage := range [...]struct {
		spacing, stiffness float64
		tolerances         []float64
	}{{20, 150, []float64{8}}, {14, 60, []float64{8, 4}}, {14, 60, []float64{5, 4}}} {
		next, err := w.fit(&paper, stage.spacing, stage.stiffness, stage.tolerances)
		if err != nil {
			return paper, w.places, err
		}
		paper = next
		for j := range w.places {
			w.measure(&w.places[j], &paper, false)
		}
		w.dropPoor()
		if i == 0 {
			w.score, w.shift = 0.6, 1.2
			if len(f.marks) == 0 {
				w.dropSlipped(&paper)
				w.hearAgain()
			}
			w.walk()
			w.dropOdd()
			w.score, w.shift = minScore, math.Inf(1)
		}
	}
	if len(f.marks) == 0 {
		w.dropSlipped(&paper)
	}
	return paper, w.places, nil
}

// seed matches the patches beside the marks, where start puts them, or, without it, where what has been
// matched and the marks do.
func (w *follower) seed(start *sheetMap) {
	for i := range w.places {
		p := &w.places[i]
		if p.seen {
			continue
		}
		for _, m := range w.marks {
			if sheetDistance(m.p, p.patch.center) > seedReach {
				continue
			}
			if start != nil {
				w.measure(p, start, true)
			} else if local, _, ok := w.around(p); ok {
				w.measure(p, &sheetMap{flat: w.flat, bend: local}, true)
			}
			break
		}
	}
}

// walk matches the neighbours of what is matched until nothing new is found.
func (w *follower) walk() {
	for found := true; found; {
		found = false
		for i := range w.places {
			p := &w.places[i]
			if p.seen || p.aside {
				continue
			}
			local, beside, ok := w.around(p)
			if !ok || beside == p.beside && p.best < w.score {
				continue // tried already with the same neighbours
			}
			p.beside = beside
			w.measure(p, &sheetMap{flat: w.flat, bend: local}, true)
			found = found || p.seen
		}
	}
}

// dropOdd drops places that lie elsewhere than all their neighbours say.
func (w *follower) dropOdd() {
	for range 2 {
		var odd []*place
		for i := range w.places {
			p := &w.places[i]
			if !p.seen {
				continue
			}
			local, _, ok := w.around(p)
			if !ok {
				odd = append(odd, p)
				continue
			}
			dx, dy := local.at(p.obs.p)
			dx, dy = dx-p.obs.d[0], dy-p.obs.d[1]
			// Only along the directions in which its print can tell.
			k := max(p.obs.info[0], p.obs.info[2])
			if p.obs.info[0]*dx*dx+2*p.obs.info[1]*dx*dy+p.obs.info[2]*dy*dy > k*oddShift*oddShift {
				odd = append(odd, p)
			}
		}
		for _, p := range odd {
			p.seen = false
		}
	}
}

// dropPoor drops places that fit much worse than the card does as a whole.
func (w *follower) dropPoor() {
	median, ok := medianScore(w.places)
	if !ok {
		return
	}
	least := median - poorScore
	for i := range w.places {
		if p := &w.places[i]; p.score < least {
			p.seen = false
		}
	}
}

// medianScore is how well the places that are seen fit, half of them at least as well; false if none is.
func medianScore(places []place) (float64, bool) {
	var scores []float64
	for i := range places {
		if places[i].seen {
			scores = append(scores, places[i].score)
		}
	}
	if len(scores) == 0 {
		return 0, false
	}
	sort.Float64s(scores)
	return scores[len(scores)/2], true
}

// A match so far below the card's median, beside print that isn't seen, may be why that isn't: it has slid along a line and
// has pulled the map with it.
const suspectScore = 0.12

// suspects returns the places that are seen and may have slid.
func suspects(places []place) []*place {
	median, ok := medianScore(places)
	if !ok {
		return nil
	}
	var out []*place
	for i := range places {
		if p := &places[i]; p.seen && p.score < median-suspectScore && hasUnseen(places, p) {
			out = append(out, p)
		}
	}
	return out
}

// hearAgain seeks what is not seen once more without the matches that may have slid, and then these, where all others put
// them. On a card without marks nothing else tells that the corner of an empty frame lies 3 mm along its edge.
func (w *follower) hearAgain() {
	slid := suspects(w.places)
	for _, p := range slid {
		p.seen, p.aside = false, true
	}
	w.walk()
	for _, p := range slid {
		p.aside, p.beside = false, 0
	}
}

// hasUnseen reports whether print right beside a place is in the picture and isn't seen.
func hasUnseen(places []place, p *place) bool {
	for i := range places {
		q := &places[i]
		if !q.seen && q.inside && q != p && sheetDistance(p.patch.center, q.patch.center) < stepReach {
			return true
		}
	}
	return false
}

// neighbour is an observation beside a place.
type neighbour struct {
	obs  *observation
	away float64 // mm
}

// within returns the distance of two points if it is below reach, mm. Most pairs are far apart, and a look at one
// axis tells.
func within(a, b sheetmodel.SheetPoint, reach float64) (away float64, ok bool) {
	if math.Abs(float64(a.X-b.X)) >= reach || math.Abs(float64(a.Y-b.Y)) >= reach {
		return 0, false
	}
	away = sheetDistance(a, b)
	return away, away < reach
}

// around fits a flat piece of paper to what was matched nearest to a place, itself left out. beside says
// how many lie right beside it; ok is false if there is too little.
func (w *follower) around(of *place) (local affine, beside int, ok bool) {
	c := of.patch.center
	near := w.near[:0]
	take := func(o *observation) {
		if d, ok := within(o.p, c, 2*stepReach); ok {
			near = append(near, neighbour{o, d})
			if d < stepReach {
				beside++
			}
		}
	}
	for i := range w.places {
		if p := &w.places[i]; p.seen && p != of {
			take(&p.obs)
		}
	}
	for i := range w.marks {
		take(&w.marks[i])
	}
	w.near = near
	if beside == 0 || len(near) < 2 {
		return local, beside, false
	}
	slices.SortFunc(near, func(a, b neighbour) int { return cmp.Compare(a.away, b.away) })
	near = near[:min(len(near), 10)]
	var room [10]observation
	obs := room[:len(near)]
	for i, n := range near {
		obs[i] = *n.obs
		// Nearer ones count more: beyond a fold the paper lies otherwise.
		k := math.Exp(-n.away * n.away / (stepReach * stepReach))
		for j := range obs[i].info {
			obs[i].info[j] *= k
		}
	}
	local, ok = fitAffine(c, obs)
	return local, beside, ok
}

// measure matches one patch near where paper puts it.
func (w *follower) measure(p *place, paper *sheetMap, seek bool) {
	p.seen, p.score, p.best = false, -1, -1
	t := paper.tangent(w.fine, p.patch.center)
	if p.inside = t.inside(w.fine, patchSize/2); !p.inside {
		return
	}
	var dx, dy float64
	if seek {
		var score float64
		dx, dy, score = p.patch.search(w.coarse, paper, w.net)
		p.best = score
		if score < min(w.score-0.15, 0.7) {
			return
		}
	}
	dx, dy, info, score := p.patch.refine(w.fine, paper, dx, dy)
	p.score, p.best = score, score
	if score < w.score || math.Hypot(dx, dy) > w.shift {
		return
	}
	if p.patch.shown(w.fine, &t, dx, dy) < lineShown {
		p.best = -1 // it slid along what does lie right: tried again when more of its neighbours are known
		return
	}
	bx, by := paper.bend.at(p.patch.center)
	jx, jy := bendSlope(paper.bend, p.patch.center)
	// A shift on the sheet before bending is this much after it.
	ox, oy := dx+dx*jx[0]+dy*jx[1], dy+dx*jy[0]+dy*jy[1]
	p.obs = observation{p: p.patch.center, d: [2]float64{bx + ox, by + oy}, info: info, keep: 1}
	p.seen = true
}

// fit fits the paper to the places matched, witnesses left out. Places that were not matched keep
// following the map so far, loosely.
func (w *follower) fit(paper *sheetMap, spacing, stiffness float64, tolerances []float64) (sheetMap, error) {
	var obs []observation
	for i := range w.places {
		p := &w.places[i]
		if p.seen && !p.witness {
			obs = append(obs, p.obs)
		}
	}
	bend := newSpline(w.face.side.W, w.face.side.H, spacing)
	return sheetMap{flat: paper.flat, bend: bend}, bend.fit(obs, stiffness, tolerances...)
}

// bendSlope returns the derivative of the displacement.
func bendSlope(s displacement, p sheetmodel.SheetPoint) (jx, jy [2]float64) {
	const d = 1.0
	ax, ay := s.at(sheetmodel.SheetPoint{X: p.X - d, Y: p.Y})
	bx, by := s.at(sheetmodel.SheetPoint{X: p.X + d, Y: p.Y})
	cx, cy := s.at(sheetmodel.SheetPoint{X: p.X, Y: p.Y - d})
	ex, ey := s.at(sheetmodel.SheetPoint{X: p.X, Y: p.Y + d})
	return [2]float64{(bx - ax) / (2 * d), (ex - cx) / (2 * d)}, [2]float64{(by - ay) / (2 * d), (ey - cy) / (2 * d)}
}

// The map that a page is made with: the last of followPrint's, fitted to its witnesses as well once they
// have been heard, and to finer control points, which a fold bends better.
const (
	lastSpacing   = 10.0  // mm
	lastStiffness = 100.0 // on the seeds of remainingPowers: 95 % of hard fields lie within 0.12 mm with it, within 0.21 without
	lastTolerance = 4.0
)

// fitAll fits a page's map to all places that were seen.
func fitAll(f *face, places []place, paper sheetMap) (sheetMap, error) {
	var obs []observation
	for i := range places {
		if places[i].seen {
			obs = append(obs, places[i].obs)
		}
	}
	bend := newSpline(f.side.W, f.side.H, lastSpacing)
	return sheetMap{flat: paper.flat, bend: bend}, bend.refit(obs, lastStiffness, lastTolerance, paper.bend)
}
