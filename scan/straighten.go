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
	bendFromMarks = 3000.0 // stiffness while only marks hold the paper: they say little between them
	markSigma     = 0.12   // mm, of a mark's corner
	markSpacing   = 40.0   // mm, control points while only marks are known
	levelForPrint = 4.5    // px/mm at which print is matched
	levelForMarks = 1300   // px, longer side: 6 px a module of a card that fills the picture
)

// paperFromMarks returns the map that goes through the corners of a group's marks.
func paperFromMarks(g *group) (sheetMap, error) {
	inv, ok := g.flat.inverse()
	if !ok {
		return sheetMap{}, errSingular
	}
	var obs []observation
	for _, m := range g.marks {
		rect, _ := g.face.mark(m.id)
		for _, p := range cornerPairs(rect, m) {
			at := inv.back(p.Photo)
			info := 1 / (markSigma * markSigma)
			obs = append(obs, observation{
				p: p.Sheet, d: [2]float64{float64(at.X - p.Sheet.X), float64(at.Y - p.Sheet.Y)}, info: [3]float64{info, 0, info},
			})
		}
	}
	paper := sheetMap{flat: g.flat, bend: newSpline(g.face.side.W, g.face.side.H, markSpacing)}
	return paper, paper.bend.fit(obs, bendFromMarks)
}

// place is what one patch says of the paper.
type place struct {
	patch   *patch
	obs     observation
	score   float64
	seen    bool // inside the picture and matched at all
	witness bool // kept out of the fit, to judge it
}

// followPrint refines a map by the card's own print, in steps: near the marks, then everywhere, then
// with a finer net.
func followPrint(pyr *pyramid, f *face, start sheetMap, marks []seenMark, photoPxPerMM float64) (sheetMap, []place, error) {
	fine, coarse := pyr.at(levelForPrint, photoPxPerMM), pyr.at(2, photoPxPerMM)
	places := make([]place, len(f.patches))
	for i := range places {
		places[i] = place{patch: &f.patches[i], witness: i%5 == 2}
	}
	paper := start
	for _, stage := range [...]struct {
		near      float64 // mm from a seen mark
		seek      bool    // search on the coarse net first
		spacing   float64
		stiffness float64
	}{
		{near: 45, seek: true, spacing: 32, stiffness: 1000},
		{near: 1e9, seek: true, spacing: 24, stiffness: 300},
		{near: 1e9, spacing: 14, stiffness: 60},
		{near: 1e9, spacing: 14, stiffness: 60},
	} {
		measure(places, fine, coarse, f, &paper, marks, stage.near, stage.seek)
		next, err := fitPlaces(places, f, &paper, stage.spacing, stage.stiffness)
		if err != nil {
			return paper, places, err
		}
		paper = next
	}
	measure(places, fine, coarse, f, &paper, marks, 1e9, false)
	return paper, places, nil
}

// measure matches all patches within near mm of a mark.
func measure(places []place, fine, coarse *view, f *face, paper *sheetMap, marks []seenMark, near float64, seek bool) {
	const width = 2*(coarseWindow+coarseReach) + 1
	net := make([]float32, width*width)
	grey := make([]float32, 4096)
	for i := range places {
		p := &places[i]
		p.seen = false
		if !nearMark(f, marks, p.patch.center, near) {
			continue
		}
		t := paper.tangent(fine, p.patch.center)
		if !t.inside(fine, patchSize/2) {
			continue
		}
		var dx, dy float64
		if seek {
			var score float64
			dx, dy, score = p.patch.search(coarse, paper, net)
			if score < 0.35 {
				continue
			}
		}
		dx, dy, info, score := p.patch.refine(fine, paper, dx, dy, grey)
		p.score = score
		if score < minScore {
			continue
		}
		bx, by := paper.bend.at(p.patch.center)
		jx, jy := bendSlope(paper.bend, p.patch.center)
		// A shift on the sheet before bending is this much after it.
		ox, oy := dx+dx*jx[0]+dy*jx[1], dy+dx*jy[0]+dy*jy[1]
		p.obs = observation{p: p.patch.center, d: [2]float64{bx + ox, by + oy}, info: info}
		p.seen = true
	}
}

// minScore is the correlation below which a patch is taken as not seen: hidden, or smeared.
const minScore = 0.4

// bendSlope returns the derivative of the displacement.
func bendSlope(s *spline, p sheetmodel.SheetPoint) (jx, jy [2]float64) {
	const d = 1.0
	ax, ay := s.at(sheetmodel.SheetPoint{X: p.X - d, Y: p.Y})
	bx, by := s.at(sheetmodel.SheetPoint{X: p.X + d, Y: p.Y})
	cx, cy := s.at(sheetmodel.SheetPoint{X: p.X, Y: p.Y - d})
	ex, ey := s.at(sheetmodel.SheetPoint{X: p.X, Y: p.Y + d})
	return [2]float64{(bx - ax) / (2 * d), (ex - cx) / (2 * d)}, [2]float64{(by - ay) / (2 * d), (ey - cy) / (2 * d)}
}

func nearMark(f *face, marks []seenMark, p sheetmodel.SheetPoint, near float64) bool {
	for _, m := range marks {
		if rect, ok := f.mark(m.id); ok && sheetDistance(rect.Center(), p) < near {
			return true
		}
	}
	return false
}

// fitPlaces fits the paper to the places seen, witnesses left out. Places outside the stage keep
// following the map so far, loosely.
func fitPlaces(places []place, f *face, paper *sheetMap, spacing, stiffness float64) (sheetMap, error) {
	var obs []observation
	for i := range places {
		p := &places[i]
		switch {
		case p.seen && !p.witness:
			obs = append(obs, p.obs)
		case !p.seen:
			dx, dy := paper.bend.at(p.patch.center)
			obs = append(obs, observation{p: p.patch.center, d: [2]float64{dx, dy}, info: [3]float64{.05, 0, .05}})
		}
	}
	next := sheetMap{flat: paper.flat, bend: newSpline(f.side.W, f.side.H, spacing)}
	return next, next.bend.fit(obs, stiffness, 8, 5, 4)
}

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
		dx, dy := paper.bend.at(p.obs.p)
		dx, dy = dx-p.obs.d[0], dy-p.obs.d[1]
		// Both axes count by how well the patch knows them.
		k := math.Max(p.obs.info[0], p.obs.info[2])
		miss = append(miss, math.Sqrt((p.obs.info[0]*dx*dx+2*p.obs.info[1]*dx*dy+p.obs.info[2]*dy*dy)/k))
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
