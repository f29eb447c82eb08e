package scan

import (
	"math"
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
	inside  bool // wholly in the picture
	seen    bool // matched
	witness bool // kept out of the fit, to judge it
	tries   int
}

const (
	bendFromMarks = 3000.0 // stiffness while only marks hold the paper: they say little between them
	markSigma     = 0.12   // mm, of a mark's corner
	markSpacing   = 40.0   // mm, control points while only marks are known
	seedReach     = 24.0   // mm from a mark's centre: half a mark and two patches
	stepReach     = 14.0   // mm from a patch to the neighbours that count as found beside it
	minScore      = 0.4    // correlation below which a patch is taken as not seen: hidden, or smeared
	walkScore     = 0.6    // while walking, where an error would lead its neighbours astray
	walkShift     = 1.0    // mm from where its neighbours put it, up to which minScore is enough
	oddShift      = 1.2    // mm from where its neighbours put it, above which a patch is dropped afterwards
)

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
	return obs, true
}

// follower walks over one side.
type follower struct {
	face         *face
	fine, coarse *view
	places       []place
	marks        []observation
	flat         homography
	net, grey    []float32
}

// followPrint refines the map of a group's marks by the card's own print.
func followPrint(pyr *pyramid, f *face, start sheetMap, g *group, photoPxPerMM float64) (sheetMap, []place, error) {
	w := &follower{face: f, fine: pyr.at(levelForPrint, photoPxPerMM), coarse: pyr.at(2, photoPxPerMM), flat: g.flat}
	const width = 2*(coarseWindow+coarseReach) + 1
	w.net, w.grey = make([]float32, width*width), make([]float32, 4096)
	w.places = make([]place, len(f.patches))
	for i := range w.places {
		w.places[i] = place{patch: &f.patches[i], witness: i%5 == 2}
	}
	var ok bool
	if w.marks, ok = markObservations(g); !ok {
		return start, w.places, errSingular
	}
	w.seed(&start)
	w.walk()
	w.dropOdd()
	paper := start
	for _, stage := range [...]struct{ spacing, stiffness float64 }{{20, 150}, {14, 60}, {14, 60}} {
		next, err := w.fit(&paper, stage.spacing, stage.stiffness)
		if err != nil {
			return paper, w.places, err
		}
		paper = next
		for i := range w.places {
			w.measure(&w.places[i], &paper, false)
		}
	}
	return paper, w.places, nil
}

// seed matches the patches beside the marks.
func (w *follower) seed(start *sheetMap) {
	for i := range w.places {
		p := &w.places[i]
		for _, m := range w.marks {
			if sheetDistance(m.p, p.patch.center) < seedReach {
				w.measure(p, start, true)
				break
			}
		}
	}
}

// walk matches the neighbours of what is matched until nothing new is found.
func (w *follower) walk() {
	for found := true; found; {
		found = false
		for i := range w.places {
			p := &w.places[i]
			if p.seen || p.tries >= 4 {
				continue
			}
			local, ok := w.around(p)
			if !ok {
				continue
			}
			p.tries++
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
			local, ok := w.around(p)
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

// around fits a flat piece of paper to what was matched nearest to a place, itself left out. ok is false
// if there is too little.
func (w *follower) around(of *place) (local affine, ok bool) {
	c := of.patch.center
	type neighbour struct {
		obs  *observation
		away float64
	}
	var near []neighbour
	beside := 0
	for i := range w.places {
		if p := &w.places[i]; p.seen && p != of {
			if d := sheetDistance(p.obs.p, c); d < 2*stepReach {
				near = append(near, neighbour{&p.obs, d})
				if d < stepReach {
					beside++
				}
			}
		}
	}
	if beside == 0 || len(near) < 2 {
		return local, false
	}
	for i := range w.marks {
		if d := sheetDistance(w.marks[i].p, c); d < 2*stepReach {
			near = append(near, neighbour{&w.marks[i], d})
		}
	}
	sort.Slice(near, func(i, j int) bool { return near[i].away < near[j].away })
	near = near[:min(len(near), 10)]
	obs := make([]observation, len(near))
	for i, n := range near {
		obs[i] = *n.obs
		// Nearer ones count more: beyond a fold the paper lies otherwise.
		k := math.Exp(-n.away * n.away / (stepReach * stepReach))
		for j := range obs[i].info {
			obs[i].info[j] *= k
		}
	}
	return fitAffine(c, obs)
}

// measure matches one patch near where paper puts it.
func (w *follower) measure(p *place, paper *sheetMap, seek bool) {
	p.seen, p.score = false, -1
	t := paper.tangent(w.fine, p.patch.center)
	if p.inside = t.inside(w.fine, patchSize/2); !p.inside {
		return
	}
	var dx, dy float64
	if seek {
		var score float64
		if dx, dy, score = p.patch.search(w.coarse, paper, w.net); score < minScore {
			return
		}
	}
	dx, dy, info, score := p.patch.refine(w.fine, paper, dx, dy, w.grey)
	p.score = score
	if score < minScore || seek && score < walkScore && math.Hypot(dx, dy) > walkShift {
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
func (w *follower) fit(paper *sheetMap, spacing, stiffness float64) (sheetMap, error) {
	var obs []observation
	for i := range w.places {
		p := &w.places[i]
		if p.seen && !p.witness {
			obs = append(obs, p.obs)
		}
	}
	bend := newSpline(w.face.side.W, w.face.side.H, spacing)
	return sheetMap{flat: paper.flat, bend: bend}, bend.fit(obs, stiffness, 8, 5, 4)
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
