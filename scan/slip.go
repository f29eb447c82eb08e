package scan

import (
	"image"
	"image/color"
	"math"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// Rows look alike. On a form without marks a walk that lost its way, over a fold or past a finger, may go on a row too high
// or too low, and all its lines fit there as well as in their place: every mark of those rows would be another racer's.
// What is printed in the rows tells, however little it is:
//
//	blank on itself --shifts--> each patch beside what stands a row farther on: where they differ, the photo is asked which it is
//	seen places --steps that paper can make--> pieces that hang together
//	a piece, or the print round a place, for which a rival speaks, or nothing speaks against it --> not seen
//
// So what is not told apart is asked, or the photo is taken again.

const (
	twinReach  = 0.8  // mm that a shift may be off at a patch
	twinStep   = 3    // px of the blank form: those that a shift is sought with
	askStep    = 2    // the same, those that the photo is asked with
	leastTwin  = 0.02 // of unlikeness, from which a patch is asked
	tornShare  = 0.35 // mm a mm of way, over one step; folds as they are simulated make 0.25
	gapShare   = 0.08 // the same where print is missing or seldom, up to gapReach
	gapReach   = 40.0 // mm
	tornMM     = 0.3  // and this much more, between two places that hang together
	offMM      = 3.0  // off a flat card, from which a place doesn't say how that lies
	slipReach  = 20.0 // mm round a place, in which its piece is asked
	slipNear   = 3.0  // mm that a walk slips at least, for a row is no lower
	slipShift  = 26.0 // mm; rivals farther off are what undecided is for
	leastSpeak = 0.25 // of unlikeness, summed, by which a piece must fit better in its place than a row farther on
	leastHere  = 0.2  // of unlikeness round a place, from which what speaks there counts by itself,
	leastEach  = 0.06 // of a twin that speaks so; grain on the blank's picture is unlike too, and says nothing
	leastRound = -0.3 // and what of it must be reached
)

// twin says where what may stand in a patch's place, if the walk has slipped, is printed. What is compared is cut anew each
// time: kept, it would take some hundred MB.
type twin struct {
	place  int         // of the patch
	by     image.Point // px of the blank form
	unlike float64     // 1 - correlation of both, over px near the print of either
}

// twinsOf returns, for each shift by which much of an upright form fits on itself nearby, the patches that differ from what
// stands there. Some 0.5 s.
func twinsOf(f *face) ([][]twin, error) {
	small, err := f.blank.smaller()
	if err != nil {
		return nil, err
	}
	defer small.Close()
	pad := int(slipShift * alikePxPerMM)
	padded := gocv.NewMat()
	defer padded.Close()
	gocv.CopyMakeBorder(small, &padded, pad, pad, pad, pad, gocv.BorderConstant, color.RGBA{})
	shifts, err := bestShifts(small, padded, image.Pt(pad, pad), 0, slipNear)
	if err != nil {
		return nil, err
	}
	var all [][]twin
	var room twinRoom
	patches := f.patches()
	for _, d := range shifts {
		var of []twin
		shift := sheetmodel.SheetPoint{X: sheetmodel.MM(float64(d.X) / alikePxPerMM), Y: sheetmodel.MM(float64(d.Y) / alikePxPerMM)}
		for i := range patches {
			if t, ok := f.blank.twin(&patches[i], shift, &room); ok && t.unlike >= leastTwin {
				t.place = i
				of = append(of, t)
			}
		}
		all = append(all, of)
	}
	return all, nil
}

// twin compares a patch with what stands shift farther on, or up to twinReach beside it; ok is false if nothing is printed
// in either place.
func (b *blank) twin(p *patch, shift sheetmodel.SheetPoint, room *twinRoom) (t twin, ok bool) {
	window := patchWindow(b, p.center)
	at := image.Pt(int(math.Round(float64(shift.X)*blankPxPerMM)), int(math.Round(float64(shift.Y)*blankPxPerMM)))
	reach := int(math.Round(twinReach * blankPxPerMM))
	best := math.Inf(-1)
	t.by = at
	for oy := at.Y - reach; oy <= at.Y+reach; oy++ {
		for ox := at.X - reach; ox <= at.X+reach; ox++ {
			if k := b.likeness(window, ox, oy); k > best {
				best, t.by = k, image.Pt(ox, oy)
			}
		}
	}
	own, other, ok := b.cut(p.center, t.by, room)
	if !ok {
		return t, false
	}
	same := 0.0
	for i := range other.fine {
		same += float64(own.fine[i].ink) * float64(other.fine[i].ink)
	}
	t.unlike = 1 - same/float64(len(own.fine))
	return t, true
}

// likeness returns the correlation of a window with what stands ox, oy px farther on; -1 where nothing is printed.
func (b *blank) likeness(window image.Rectangle, ox, oy int) float64 {
	var n, a, aa, c, cc, ac float64
	for y := window.Min.Y; y < window.Max.Y; y += twinStep {
		for x := window.Min.X; x < window.Max.X; x += twinStep {
			u, v := b.inkAt(x, y), b.inkAt(x+ox, y+oy)
			n, a, aa, c, cc, ac = n+1, a+u, aa+u*u, c+v, cc+v*v, ac+u*v
		}
	}
	va, vc := aa-a*a/n, cc-c*c/n
	if va <= 0 || vc <= 0 {
		return -1
	}
	return (ac - a*c/n) / math.Sqrt(va*vc)
}

// twinRoom is to cut twins in.
type twinRoom struct{ own, other []sample }

// cut returns the patch at c and what stands by px farther on, over px near the print of either; they lie in room. other
// has no samples where nothing is printed; ok is false where the patch has none.
func (b *blank) cut(c sheetmodel.SheetPoint, by image.Point, room *twinRoom) (own, other patch, ok bool) {
	window := patchWindow(b, c)
	cx, cy := patchCenter(c)
	room.own, room.other = room.own[:0], room.other[:0]
	for y := window.Min.Y; y < window.Max.Y; y += askStep {
		for x := window.Min.X; x < window.Max.X; x += askStep {
			if !b.nearAt(x, y) && !b.nearAt(x+by.X, y+by.Y) {
				continue
			}
			s := sample{dx: float32(x-cx) / blankPxPerMM, dy: float32(y-cy) / blankPxPerMM}
			room.own, room.other = append(room.own, b.sampleAt(s, x, y)), append(room.other, b.sampleAt(s, x+by.X, y+by.Y))
		}
	}
	if own, ok = patchOf(c, room.own); !ok {
		return own, other, false
	}
	other, _ = patchOf(c, room.other)
	return own, other, true
}

func (b *blank) inkAt(x, y int) float64 {
	if x < 0 || y < 0 || x >= b.w || y >= b.h {
		return 0
	}
	return float64(b.ink[y*b.w+x])
}

func (b *blank) nearAt(x, y int) bool {
	return x >= 0 && y >= 0 && x < b.w && y < b.h && b.near[y*b.w+x]
}

func (b *blank) sampleAt(s sample, x, y int) sample {
	s.ink = float32(b.inkAt(x, y))
	s.sx = float32(b.inkAt(x+1, y)-b.inkAt(x-1, y)) * blankPxPerMM / 2
	s.sy = float32(b.inkAt(x, y+1)-b.inkAt(x, y-1)) * blankPxPerMM / 2
	return s
}

// patchOf makes a patch for the fine search alone; ok is false if nothing is printed there.
func patchOf(center sheetmodel.SheetPoint, samples []sample) (p patch, ok bool) {
	if len(samples) == 0 || !normaliseSamples(samples) {
		return p, false
	}
	p.center, p.fine = center, samples
	for i := range samples {
		s := &samples[i]
		p.hess[0] += float64(s.sx * s.sx)
		p.hess[1] += float64(s.sx * s.sy)
		p.hess[2] += float64(s.sy * s.sy)
	}
	return p, true
}

// said is what the photo says of one twin: how much better the patch fits in its place than what stands farther on.
type said struct{ better, unlike float64 }

// heard is what was said of a twin where its place lay then.
type heard struct {
	said
	d     [2]float64
	known bool
}

// askedAgain is how far a place must have moved, mm, for its twins to be asked again.
const askedAgain = 0.5

// ask looks what stands where a twin's patch was found, which need not be where the map puts it.
func (t *twin) ask(b *blank, p *place, v *view, paper *sheetMap, room *twinRoom) said {
	own, other, ok := b.cut(p.patch.center, t.by, room)
	if !ok {
		return said{}
	}
	bx, by := paper.bend.at(p.patch.center)
	dx, dy := p.obs.d[0]-bx, p.obs.d[1]-by
	_, _, _, here := own.refine(v, paper, dx, dy)
	there := 0.0
	if len(other.fine) > 0 {
		_, _, _, there = other.refine(v, paper, dx, dy)
	}
	return said{better: max(here, 0) - max(there, 0), unlike: t.unlike}
}

// dropSlipped drops the places that may lie a row, or a column, farther on than where they belong, and returns how many.
func (w *follower) dropSlipped(paper *sheetMap) int {
	own, err := w.face.prints()
	if err != nil || len(own.twins) == 0 {
		return 0
	}
	off := w.offTheFlat()
	pieces := w.pieces(off)
	var room twinRoom
	dropped := 0
	bad := make([]bool, len(w.places))
	if w.heard == nil {
		w.heard = make([][]heard, len(own.twins))
	}
	for n, of := range own.twins {
		if w.heard[n] == nil {
			w.heard[n] = make([]heard, len(w.places))
		}
		here := make([]said, len(w.places))
		whole := map[int]said{}
		for i := range of {
			t := &of[i]
			p, h := &w.places[t.place], &w.heard[n][t.place]
			if !p.seen || pieces[t.place] < 0 {
				continue
			}
			if !h.known || math.Hypot(p.obs.d[0]-h.d[0], p.obs.d[1]-h.d[1]) > askedAgain {
				*h = heard{t.ask(w.face.blank, p, w.fine, paper, &room), p.obs.d, true}
			}
			s := h.said
			here[t.place] = s
			sum := whole[pieces[t.place]]
			whole[pieces[t.place]] = said{sum.better + s.better, sum.unlike + s.unlike}
		}
		for i := range w.places {
			if !w.places[i].seen || bad[i] || pieces[i] < 0 {
				continue
			}
			sum := whole[pieces[i]]
			if sum.better < leastSpeak {
				bad[i] = true
				continue
			}
			var round said
			for j := range w.places {
				if here[j].unlike >= leastEach && w.places[j].patch.twoWays() && pieces[j] == pieces[i] && likewise(&w.places[i], &w.places[j], off[i], off[j]) {
					round.better, round.unlike = round.better+here[j].better, round.unlike+here[j].unlike
				}
			}
			bad[i] = round.unlike >= leastHere && round.better < leastRound*round.unlike
		}
	}
	for i := range bad {
		if bad[i] {
			w.places[i].seen = false
			dropped++
		}
	}
	return dropped
}

// offTheFlat returns how far, in mm, each seen place lies from where a flat card would have it. What the walk began with
// may be a card at quite another slant.
func (w *follower) offTheFlat() [][2]float64 {
	off := make([][2]float64, len(w.places))
	var flat homography
	for round := range 2 {
		var pairs []PointPair
		for i := range w.places {
			if p := &w.places[i]; p.seen && p.patch.twoWays() && (round == 0 || math.Hypot(off[i][0], off[i][1]) < offMM) {
				pairs = append(pairs, PointPair{Sheet: p.patch.center, Photo: p.lies()})
			}
		}
		fit, ok := fitHomography(pairs)
		if !ok {
			break
		}
		flat = fit
		for i := range w.places {
			if p := &w.places[i]; p.seen {
				a, b := p.lies(), flat.at(p.patch.center)
				off[i] = [2]float64{a.X - b.X, a.Y - b.Y}
			}
		}
	}
	return off
}

// lies returns where the place was found, in mm on the flat card that the walk began with.
func (p *place) lies() sheetmodel.PhotoPoint {
	return sheetmodel.PhotoPoint{X: float64(p.patch.center.X) + p.obs.d[0], Y: float64(p.patch.center.Y) + p.obs.d[1]}
}

// pieces returns for each seen place which piece of paper it belongs to: one that can be walked from place to place in
// steps that paper can make. A place whose print holds one way alone leads nowhere; where nothing is near it, it is -1.
func (w *follower) pieces(off [][2]float64) []int {
	piece := make([]int, len(w.places))
	for i := range piece {
		piece[i] = -1
	}
	n := 0
	for i := range w.places {
		if p := &w.places[i]; !p.seen || piece[i] >= 0 || !p.patch.twoWays() {
			continue
		}
		piece[i] = n
		for todo := []int{i}; len(todo) > 0; {
			at := todo[0]
			p := &w.places[at]
			todo = todo[1:]
			if !p.patch.twoWays() {
				continue
			}
			for j := range w.places {
				q := &w.places[j]
				if !q.seen || piece[j] >= 0 || !hangTogether(p, q, off[at], off[j]) {
					continue
				}
				piece[j] = n
				todo = append(todo, j)
			}
		}
		n++
	}
	w.attach(piece, off)
	return piece
}

// attach gives places that hold one way, and on which no step leads, to the piece of the nearest place that they hang
// together with. What lies torn off from all that is near is a piece by itself.
func (w *follower) attach(piece []int, off [][2]float64) {
	var to []int
	for i, n := range piece {
		if n >= 0 {
			to = append(to, i)
		}
	}
	for i := range w.places {
		p := &w.places[i]
		if !p.seen || piece[i] >= 0 {
			continue
		}
		nearest := gapReach
		for _, j := range to {
			q := &w.places[j]
			away, near := within(p.patch.center, q.patch.center, gapReach)
			if !near {
				continue
			}
			if piece[i] < 0 {
				piece[i] = len(w.places) + i
			}
			if away < nearest && math.Hypot(off[i][0]-off[j][0], off[i][1]-off[j][1]) <= gapShare*away+tornMM {
				nearest, piece[i] = away, piece[j]
			}
		}
	}
}

// hangTogether reports whether paper can lead from one place to the other without a tear. The first holds both ways.
func hangTogether(p, q *place, a, b [2]float64) bool {
	away, near := within(p.patch.center, q.patch.center, gapReach)
	if !near || away >= stepReach && !q.patch.twoWays() {
		return false
	}
	share := tornShare
	if away >= stepReach {
		share = gapShare
	}
	return math.Hypot(a[0]-b[0], a[1]-b[1]) <= share*away+tornMM
}

// likewise reports whether two places near each other lie as on one flat piece: a slip that a fold hides, or that leads
// over into what is right in small steps, doesn't speak for its neighbours, nor they for it.
func likewise(p, q *place, a, b [2]float64) bool {
	away, near := within(p.patch.center, q.patch.center, slipReach)
	return near && math.Hypot(a[0]-b[0], a[1]-b[1]) <= gapShare*away+tornMM
}
