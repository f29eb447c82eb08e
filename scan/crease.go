package scan

import (
	"math"
	"slices"
	"sort"

	"gatefold/sheetmodel"
)

// Where a walk has left print unseen, or gone astray, the whole card is asked. Folded paper is smooth but for one
// line, and most of it has been matched, on both sides of the line:
//
//	displacement = quadratic in the place + (distance beyond the line) · (slope + twist · place along the line + bow · distance)
//
// Each line is tried, with weights that make nothing of places that lie elsewhere; the line that explains most places
// tells where the rest belong. Boxes in a row look alike, so a walk that slipped by a box is content with itself;
// print that fits as well where the whole card puts it was elsewhere by mistake.
const (
	creaseTurns  = 16   // directions of lines
	creaseStep   = 8.0  // mm from line to line
	creaseUnseen = 3    // places unseen, from which the whole card is asked
	creaseAstray = 2.0  // mm from where the whole card puts it, above which a match is doubted
	creaseScore  = 0.6  // correlation of a match sought anew
	creaseOwn    = 3.0  // mm by which a fold may miss a match that it explains
	creaseReach  = 20.0 // mm, of a match's say in where the fold puts others
	creaseTries  = 3
	creaseSample = 70   // matches that lines are compared by at first
	creaseFew    = 12   // places unseen that a fingertip may hide
	creaseFlat   = 0.85 // of the matches, explained without a fold
	creaseRounds = 3
	creaseGain   = 1.0  // correlation, summed, that is worth asking again
	creaseLost   = 24.0 // mm from print unseen, within which a walk may have slipped
	creaseAlike  = 0.92 // cosine between directions
	creaseApart  = 15.0 // mm
	creaseShift  = 1.5  // mm that a match sought anew may lie from where the whole card puts it
	creaseLeast  = 30   // matches that can tell
	creaseUnit   = 50.0 // mm, to keep the powers of places alike
)

// creaseScales are the distances, in mm, at which a place's weight falls to a quarter, pass by pass.
var creaseScales = [...]float64{8, 4, 2, 1.2}

const creaseTerms = 9

// crease is a displacement with one fold.
type crease struct {
	mid      sheetmodel.SheetPoint
	cos, sin float64 // of the direction square to the line
	off      float64 // mm from mid to the line
	x, y     [creaseTerms]float64
	explains float64 // places
}

func (c *crease) terms(p sheetmodel.SheetPoint) [creaseTerms]float64 {
	u, v := float64(p.X-c.mid.X)/creaseUnit, float64(p.Y-c.mid.Y)/creaseUnit
	beyond := max(0, u*c.cos+v*c.sin-c.off/creaseUnit)
	return [...]float64{1, u, v, u * u, u * v, v * v, beyond, beyond * (v*c.cos - u*c.sin), beyond * beyond}
}

// at returns the displacement at p, mm.
func (c *crease) at(p sheetmodel.SheetPoint) (dx, dy float64) {
	for i, t := range c.terms(p) {
		dx, dy = dx+c.x[i]*t, dy+c.y[i]*t
	}
	return dx, dy
}

// fit sets the displacement for the line, and how many places it explains; false if they are too few.
func (c *crease) fit(obs []observation) bool {
	for i := range obs {
		obs[i].keep = 1
	}
	for _, scale := range creaseScales {
		var a [creaseTerms][creaseTerms]float64
		var bx, by [creaseTerms]float64
		for k := range obs {
			o := &obs[k]
			t := c.terms(o.p)
			for i := range t {
				w := o.keep * t[i]
				bx[i], by[i] = bx[i]+w*o.d[0], by[i]+w*o.d[1]
				for j := range i + 1 {
					a[i][j] += w * t[j]
				}
			}
		}
		for i := range a {
			a[i][i] += 1e-3
		}
		if !solveSmall(&a, &bx, &by) {
			return false
		}
		c.x, c.y = bx, by
		c.explains = 0
		for k := range obs {
			dx, dy := c.at(obs[k].p)
			dx, dy = dx-obs[k].d[0], dy-obs[k].d[1]
			obs[k].keep = robust(dx*dx+dy*dy, scale)
			c.explains += obs[k].keep
		}
	}
	return true
}

// solveSmall solves a·x = b for two right sides, in place; a is symmetric, its lower half given.
func solveSmall(a *[creaseTerms][creaseTerms]float64, bx, by *[creaseTerms]float64) bool {
	for j := range a {
		for k := range j {
			a[j][j] -= a[j][k] * a[j][k]
		}
		if a[j][j] <= 1e-9 {
			return false
		}
		a[j][j] = math.Sqrt(a[j][j])
		for i := j + 1; i < creaseTerms; i++ {
			for k := range j {
				a[i][j] -= a[i][k] * a[j][k]
			}
			a[i][j] /= a[j][j]
		}
	}
	for i := range a {
		for k := range i {
			bx[i], by[i] = bx[i]-a[i][k]*bx[k], by[i]-a[i][k]*by[k]
		}
		bx[i], by[i] = bx[i]/a[i][i], by[i]/a[i][i]
	}
	for i := creaseTerms - 1; i >= 0; i-- {
		for k := i + 1; k < creaseTerms; k++ {
			bx[i], by[i] = bx[i]-a[k][i]*bx[k], by[i]-a[k][i]*by[k]
		}
		bx[i], by[i] = bx[i]/a[i][i], by[i]/a[i][i]
	}
	return true
}

// findCreases returns the folds that the matches may tell of, the likeliest first: those that explain the most of all,
// the most of those that lie far from print unseen, and the sheet without one.
func (w *follower) findCreases(lost int) []crease {
	var all, sure []observation
	for i := range w.places {
		if p := &w.places[i]; p.seen && p.patch.twoWays() {
			if all = append(all, p.obs); !w.besideLost(p) {
				sure = append(sure, p.obs)
			}
		}
	}
	if len(all) < creaseLeast {
		return nil
	}
	all, sure = append(all, w.marks...), append(sure, w.marks...)
	flat := crease{mid: sheetmodel.SheetPoint{X: w.face.side.W / 2, Y: w.face.side.H / 2}, cos: 1, off: float64(w.face.side.W)}
	if !flat.fit(all) {
		return nil
	}
	if lost <= creaseFew && flat.explains >= creaseFlat*float64(len(all)) {
		return []crease{flat}
	}
	best := w.bestCreases(all)
	if len(sure) >= creaseLeast && len(sure) < len(all) {
		if more := w.bestCreases(sure); len(more) > 0 && len(best) > 0 {
			best = slices.Concat(best[:1], more[:1], best[1:], more[1:])
		}
	}
	return slices.Insert(best, min(2, len(best)), flat)
}

// bestCreases returns the folds that explain the most of the matches.
func (w *follower) bestCreases(obs []observation) []crease {
	few := obs
	if n := len(obs); n > creaseSample {
		// Steps that share no factor with the rows of places: few columns would tell little.
		few = make([]observation, creaseSample)
		for i := range few {
			few[i] = obs[int(float64(i)*math.Phi*float64(n))%n]
		}
	}
	width, height := float64(w.face.side.W), float64(w.face.side.H)
	var tried []crease
	for k := range creaseTurns {
		c := crease{mid: sheetmodel.SheetPoint{X: w.face.side.W / 2, Y: w.face.side.H / 2}}
		c.sin, c.cos = math.Sincos(float64(k) * math.Pi / creaseTurns)
		reach := math.Abs(c.cos)*width/2 + math.Abs(c.sin)*height/2 - creaseStep
		for c.off = -reach; c.off <= reach; c.off += creaseStep {
			if c.fit(few) {
				tried = append(tried, c)
			}
		}
	}
	sort.SliceStable(tried, func(i, j int) bool { return tried[i].explains > tried[j].explains })
	var best []crease
	for i := range tried {
		if len(best) < creaseTries && !slices.ContainsFunc(best, tried[i].alike) {
			best = append(best, tried[i])
		}
	}
	for i := range best {
		best[i] = best[i].sharpened(obs)
	}
	return best
}

// sharpened returns the fold, or one half a step beside it, that explains the most.
func (c crease) sharpened(obs []observation) crease {
	at, off, best := math.Atan2(c.sin, c.cos), c.off, c
	best.explains = 0
	for _, d := range [...][2]float64{{0, 0}, {0, -1}, {0, 1}, {-1, 0}, {1, 0}} {
		c.sin, c.cos = math.Sincos(at + d[0]*math.Pi/creaseTurns/2)
		c.off = off + d[1]*creaseStep/2
		if c.fit(obs) && c.explains > best.explains {
			best = c
		}
	}
	return best
}

// besideLost reports whether print near the place that holds the paper both ways should be seen and isn't.
func (w *follower) besideLost(p *place) bool {
	for i := range w.places {
		if o := &w.places[i]; w.lost(o) && sheetDistance(o.patch.center, p.patch.center) < creaseLost {
			return true
		}
	}
	return false
}

// alike reports whether two folds lie about alike.
func (c *crease) alike(o crease) bool {
	along := math.Abs(c.cos*o.cos + c.sin*o.sin)
	return along > creaseAlike && math.Abs(math.Abs(c.off)-math.Abs(o.off)) < creaseApart
}

// askAll seeks anew what is unseen, or lies elsewhere than the card as a whole says, and walks on from there, for
// each fold that the card may have. It keeps the one that makes the most print seen, if more than was before, and asks
// again: the more is seen the better the fold is known.
func (w *follower) askAll() {
	enough := creaseUnseen
	if len(w.face.marks) == 0 {
		enough = 1 // print is sparse, and what is lost at a frame's corner is all that holds it
	}
	for range creaseRounds {
		lost := w.countLost()
		if lost < enough {
			return
		}
		before, score, shift := slices.Clone(w.places), w.score, w.shift
		was := w.evidence()
		best, most := before, was
		for i, fold := range w.findCreases(lost) {
			if i > 2 && most == was && lost <= creaseFew {
				break // the likeliest show nothing new: something lies over the print
			}
			copy(w.places, before)
			w.ask(&fold)
			w.score, w.shift = score, shift
			for i := range w.places {
				w.places[i].beside = 0
			}
			w.walk()
			if e := w.evidence(); e > most {
				best, most = slices.Clone(w.places), e
			}
			if w.countLost() < enough {
				break
			}
		}
		copy(w.places, best)
		if most < was+creaseGain {
			return
		}
	}
}

// ask seeks what is unseen, or lies elsewhere, where the fold puts it.
func (w *follower) ask(fold *crease) {
	own := w.residuals(fold)
	w.score, w.shift = creaseScore, creaseShift
	for i := range w.places {
		p := &w.places[i]
		if p.seen && !p.patch.twoWays() {
			continue
		}
		near := fold.near(p.patch.center, own)
		if p.seen && near.misses(&p.obs) <= creaseAstray {
			continue
		}
		w.measure(p, &sheetMap{flat: w.flat, bend: &near}, true)
	}
}

// residuals returns by how much the fold misses the matches that it explains.
func (w *follower) residuals(fold *crease) []observation {
	var own []observation
	add := func(o observation) {
		dx, dy := fold.at(o.p)
		o.d[0], o.d[1] = o.d[0]-dx, o.d[1]-dy
		if math.Hypot(o.d[0], o.d[1]) < creaseOwn {
			own = append(own, o)
		}
	}
	for i := range w.places {
		if p := &w.places[i]; p.seen && p.patch.twoWays() {
			add(p.obs)
		}
	}
	for _, m := range w.marks {
		add(m)
	}
	return own
}

// near returns the fold moved by what it misses the matches round p by: paper bends otherwise than a quadratic.
func (c *crease) near(p sheetmodel.SheetPoint, own []observation) crease {
	const little = 0.3 // of one match beside p
	moved, sum, dx, dy := *c, little, 0.0, 0.0
	for i := range own {
		if d := sheetDistance(own[i].p, p); d < 3*creaseReach {
			k := math.Exp(-d * d / (2 * creaseReach * creaseReach))
			sum, dx, dy = sum+k, dx+k*own[i].d[0], dy+k*own[i].d[1]
		}
	}
	moved.x[0], moved.y[0] = moved.x[0]+dx/sum, moved.y[0]+dy/sum
	return moved
}

// misses returns by how many mm an observation misses the fold's displacement, along what its print can tell.
func (c *crease) misses(o *observation) float64 {
	dx, dy := c.at(o.p)
	dx, dy = dx-o.d[0], dy-o.d[1]
	k := max(o.info[0], o.info[2])
	return math.Sqrt((o.info[0]*dx*dx + 2*o.info[1]*dx*dy + o.info[2]*dy*dy) / k)
}

// lost reports whether a place holds the paper both ways, should be in the picture, and is not seen.
func (w *follower) lost(p *place) bool {
	return !p.seen && (p.inside || p.beside == 0) && p.patch.twoWays()
}

// countLost returns how many places are.
func (w *follower) countLost() int {
	n := 0
	for i := range w.places {
		if w.lost(&w.places[i]) {
			n++
		}
	}
	return n
}

// evidence is what the print that was seen both ways counts.
func (w *follower) evidence() float64 {
	sum := 0.0
	for i := range w.places {
		if p := &w.places[i]; p.seen && p.patch.twoWays() {
			sum += p.score
		}
	}
	return sum
}

// What counts as folded: paper that only bends turns by half as much within twice this.
const (
	foldedOver = 12.0 // mm to either side
	foldedBy   = 0.12 // mm per mm, by which the slope differs: a fold of 15 degrees seen at 30
)

// folded reports whether the map turns sharply somewhere among what was seen.
func folded(side *sheetmodel.Side, paper *sheetMap, places []place) bool {
	for i := range places {
		c := places[i].patch.center
		if !places[i].seen {
			continue
		}
		for _, d := range [...]sheetmodel.SheetPoint{{X: foldedOver}, {Y: foldedOver}} {
			a, b := sheetmodel.SheetPoint{X: c.X - d.X, Y: c.Y - d.Y}, sheetmodel.SheetPoint{X: c.X + d.X, Y: c.Y + d.Y}
			if a.X < 0 || a.Y < 0 || b.X > side.W || b.Y > side.H {
				continue
			}
			ax, ay := bendSlope(paper.bend, a)
			bx, by := bendSlope(paper.bend, b)
			along := 0 // of the slopes, the one across the line that is tried
			if d.Y > 0 {
				along = 1
			}
			if math.Hypot(bx[along]-ax[along], by[along]-ay[along]) > foldedBy {
				return true
			}
		}
	}
	return false
}
