package scan

import (
	"image"
	"image/color"
	"math"
	"sync"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// What lies over a card between its print lines. On the straight page, coarse as it may be:
//
//	close: strokes of pen and print, thinner than a fingertip or a punched hole, go; what is large and dark stays
//	dark:  large and much darker than the paper round it: a finger, a hole, a clip, or a shadow
//	told:  print lines go on through a shadow and don't through a cover; what is dark and shows none is asked
//	       of the nearest place of the same dark patch that can tell, and is a cover where nothing can
//
// Nothing here sees what is as bright as paper: snow, or another paper.
//
// Source of closing: Serra, Image Analysis and Mathematical Morphology, 1982, ch. XII.

const (
	overPxPerMM  = 2.0
	strokeMM     = 4.0  // width that strokes stay below and covers don't: the smallest, a punched hole, is 6 mm
	paperReachMM = 20.0 // paper is in sight within it
	darkShare    = 0.78 // of the paper's brightness: wet paper keeps more, the palest finger less
	tellMM       = 5.0  // square in which print is asked
	tellInk      = 0.02 // mean square of the ink in it that can tell
	shownInk     = 0.5  // of the contrast that print has elsewhere: it shows
	hiddenInk    = 0.25 // it doesn't
	sliverPx     = 5    // of overPxPerMM: 2.5 mm
	leastOverMM2 = 9.0  // of a patch with a rim
	surelySeen   = 0.75 // correlation of a place whose middle nothing lies over
	surelyMM     = 5.0  // of that middle
	overlapMM2   = 3.0  // of a field, and
	overlapShare = 0.06 // of it: less is the edge of a box
	overlapMost  = 15.0 // mm² of a large field that people write into: a word
	spreadMM     = 8    // from what was told, half of what a finger is wide
	mostlyHides  = 0.85 // of what was told of a patch, from which all of it is a cover
	mostOverMM2  = 150. // of a patch that nothing tells of: larger ones are shadows
)

// form is a face's print as overlaid compares it: w × h at overPxPerMM.
type coarseForm struct {
	once  sync.Once
	w, h  int
	lines []float32 // ink of what is thinner than strokeMM, 0 to 1
	solid []bool    // print that is large and dark itself, or differs from card to card
	err   error
}

// coarse returns the face's print for overlaid.
func (f *face) coarse() (*coarseForm, error) {
	c := &f.overForm
	c.once.Do(func() { c.err = c.draw(f) })
	return c, c.err
}

func (c *coarseForm) draw(f *face) error {
	c.w, c.h = int(math.Ceil(float64(f.side.W)*overPxPerMM)), int(math.Ceil(float64(f.side.H)*overPxPerMM))
	full := gocv.NewMatWithSize(f.blank.h, f.blank.w, gocv.MatTypeCV32F)
	defer full.Close()
	pix, err := full.DataPtrFloat32()
	if err != nil {
		return err
	}
	copy(pix, f.blank.ink)
	ink, open := gocv.NewMat(), gocv.NewMat()
	defer ink.Close()
	defer open.Close()
	gocv.Resize(full, &ink, image.Pt(c.w, c.h), 0, 0, gocv.InterpolationArea)
	disc := strokeDisc()
	defer disc.Close()
	gocv.MorphologyEx(ink, &open, gocv.MorphOpen, disc)
	// Print blurred by a photo reaches a little farther than its own edge.
	large := gocv.NewMat()
	defer large.Close()
	gocv.Dilate(open, &large, disc)
	a, err := ink.DataPtrFloat32()
	if err != nil {
		return err
	}
	b, err := open.DataPtrFloat32()
	if err != nil {
		return err
	}
	l, err := large.DataPtrFloat32()
	if err != nil {
		return err
	}
	c.lines, c.solid = make([]float32, len(a)), make([]bool, len(a))
	for i := range a {
		c.lines[i], c.solid[i] = a[i]-b[i], l[i] > 0.12
	}
	for _, r := range f.side.Identity {
		c.each(r.Grow(1), func(i int) { c.solid[i] = true })
	}
	return nil
}

// each calls do with all px of a rectangle.
func (c *coarseForm) each(r sheetmodel.Rect, do func(i int)) {
	px := func(v sheetmodel.MM, most int) int { return min(max(int(math.Round(float64(v)*overPxPerMM)), 0), most) }
	for y := px(r.Y, c.h); y < px(r.Y+r.H, c.h); y++ {
		for x := px(r.X, c.w); x < px(r.X+r.W, c.w); x++ {
			do(y*c.w + x)
		}
	}
}

func strokeDisc() gocv.Mat {
	const n = int(strokeMM*overPxPerMM) + 1
	return gocv.GetStructuringElement(gocv.MorphEllipse, image.Pt(n, n))
}

// overlaid returns the names of fields of which a part lies under something, as the straight page shows it.
func (f *face) overlaid(page gocv.Mat, places []place) ([]string, error) {
	c, err := f.coarse()
	if err != nil {
		return nil, err
	}
	over, err := c.covers(page, places)
	if err != nil || over == nil {
		return nil, err
	}
	var names []string
	for i := range f.side.Fields {
		n := 0
		c.each(f.side.Fields[i].Rect, func(i int) {
			if over[i] {
				n++
			}
		})
		if float64(n) >= leastOverlap(&f.side.Fields[i])*overPxPerMM*overPxPerMM {
			names = append(names, f.side.Fields[i].Name)
		}
	}
	return names, nil
}

// leastOverlap returns how much of a field must lie under something for ink to be hidden, mm².
func leastOverlap(f *sheetmodel.Field) float64 {
	share := overlapShare * float64(f.Rect.W*f.Rect.H)
	if f.Kind != sheetmodel.Drawing {
		share = min(share, overlapMost)
	}
	return max(overlapMM2, share)
}

// covers returns which px something lies over, nil if none.
func (c *coarseForm) covers(page gocv.Mat, places []place) ([]bool, error) {
	small, closed, paper := gocv.NewMat(), gocv.NewMat(), gocv.NewMat()
	defer small.Close()
	defer closed.Close()
	defer paper.Close()
	gocv.Resize(page, &small, image.Pt(c.w, c.h), 0, 0, gocv.InterpolationArea)
	disc := strokeDisc()
	defer disc.Close()
	gocv.MorphologyEx(small, &closed, gocv.MorphClose, disc)
	if err := paperRound(closed, &paper); err != nil {
		return nil, err
	}
	grey, err := small.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	smooth, err := closed.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	white, err := paper.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	dark := make([]bool, len(grey))
	found := false
	for i := range dark {
		dark[i] = !c.solid[i] && float64(smooth[i]) < darkShare*float64(white[i])
		found = found || dark[i]
	}
	if !found {
		return nil, nil
	}
	told, err := c.tell(grey, smooth, dark)
	if err != nil {
		return nil, err
	}
	for i := range places {
		if p := &places[i]; p.seen && p.score >= surelySeen {
			const half = sheetmodel.MM(surelyMM / 2)
			c.each(sheetmodel.Rect{X: p.patch.center.X - half, Y: p.patch.center.Y - half, W: 2 * half, H: 2 * half}, func(i int) {
				if dark[i] {
					told[i] = shows
				}
			})
		}
	}
	over := c.settle(dark, told)
	return c.widened(over)
}

// paperRound sets how bright the paper is round each px: the brightest within reach.
func paperRound(closed gocv.Mat, paper *gocv.Mat) error {
	const k = 4
	tiny := gocv.NewMat()
	defer tiny.Close()
	gocv.Resize(closed, &tiny, image.Pt(max(closed.Cols()/k, 1), max(closed.Rows()/k, 1)), 0, 0, gocv.InterpolationArea)
	const n = 2*int(paperReachMM*overPxPerMM/k) + 1
	box := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(n, n))
	defer box.Close()
	gocv.Dilate(tiny, &tiny, box)
	gocv.Blur(tiny, &tiny, image.Pt(5, 5))
	gocv.Resize(tiny, paper, image.Pt(closed.Cols(), closed.Rows()), 0, 0, gocv.InterpolationLinear)
	return nil
}

// What the print says of a px.
const (
	untold = iota
	shows  // print goes on here: a shadow
	hides  // print that should be here isn't
)

// tell asks the print round each dark px.
func (c *coarseForm) tell(grey, smooth []uint8, dark []bool) ([]uint8, error) {
	got, want := gocv.NewMatWithSize(c.h, c.w, gocv.MatTypeCV32F), gocv.NewMatWithSize(c.h, c.w, gocv.MatTypeCV32F)
	defer got.Close()
	defer want.Close()
	g, err := got.DataPtrFloat32()
	if err != nil {
		return nil, err
	}
	w, err := want.DataPtrFloat32()
	if err != nil {
		return nil, err
	}
	var lit, of float64 // contrast of print elsewhere
	for i, e := range c.lines {
		t := float32(int(smooth[i])-int(grey[i])) / float32(max(int(smooth[i]), 8))
		g[i], w[i] = 0, 0
		switch {
		case c.solid[i]:
		case dark[i]:
			g[i], w[i] = t*e, e*e
		default:
			lit, of = lit+float64(t*e), of+float64(e*e)
		}
	}
	told := make([]uint8, len(dark))
	if of == 0 || lit <= 0 {
		return told, nil
	}
	usual := float32(lit / of)
	const n = int(tellMM*overPxPerMM) + 1
	gocv.Blur(got, &got, image.Pt(n, n))
	gocv.Blur(want, &want, image.Pt(n, n))
	if g, err = got.DataPtrFloat32(); err != nil {
		return nil, err
	}
	if w, err = want.DataPtrFloat32(); err != nil {
		return nil, err
	}
	for i, d := range dark {
		switch share := g[i] / max(w[i]*usual, 1e-9); {
		case !d || w[i] < tellInk:
		case share >= shownInk:
			told[i] = shows
		case share < hiddenInk:
			told[i] = hides
		}
	}
	return told, c.heed(told)
}

// heed takes back what hides in slivers: along a shadow's edge print is compared with two kinds of light.
func (c *coarseForm) heed(told []uint8) error {
	m := gocv.NewMatWithSize(c.h, c.w, gocv.MatTypeCV8U)
	defer m.Close()
	pix, err := m.DataPtrUint8()
	if err != nil {
		return err
	}
	for i, t := range told {
		pix[i] = 0
		if t == hides {
			pix[i] = 1
		}
	}
	square := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(sliverPx, sliverPx))
	defer square.Close()
	open := gocv.NewMat()
	defer open.Close()
	gocv.MorphologyEx(m, &open, gocv.MorphOpen, square)
	if pix, err = open.DataPtrUint8(); err != nil {
		return err
	}
	for i, t := range told {
		if t == hides && pix[i] == 0 {
			told[i] = untold
		}
	}
	return nil
}

// settle returns which px are covered. A dark patch of which nearly all that was told hides is a cover, whole; one of
// which more shows is a cover in a shadow, and what was told spreads over it, nearest first, no farther than half a
// finger. A patch that nothing tells of is a cover if it is large enough, and not as large as shadows are.
func (c *coarseForm) settle(dark []bool, told []uint8) []bool {
	over := make([]bool, len(dark))
	for _, patch := range c.patchesOf(dark) {
		var queue []int
		hide := 0
		for _, i := range patch {
			if told[i] != untold {
				queue = append(queue, i)
			}
			if told[i] == hides {
				hide++
			}
		}
		area := float64(len(patch)) / (overPxPerMM * overPxPerMM)
		all := float64(hide) >= mostlyHides*float64(len(queue))
		if len(queue) == 0 {
			all = area >= leastOverMM2 && area <= mostOverMM2
		}
		if all {
			for _, i := range patch {
				over[i] = true
			}
			continue
		}
		c.spread(queue, dark, told, over)
	}
	return over
}

// spread goes on from the px in queue, of which something was told.
func (c *coarseForm) spread(queue []int, dark []bool, told []uint8, over []bool) {
	steps := map[int]int{}
	for at := 0; at < len(queue); at++ {
		from := queue[at]
		over[from] = told[from] == hides
		c.beside(from, func(i int) {
			if !dark[i] || told[i] != untold {
				return
			}
			steps[i] = steps[from] + 1
			if told[i] = told[from]; steps[i] > spreadMM*overPxPerMM {
				told[i] = shows
			}
			queue = append(queue, i)
		})
	}
}

// patchesOf returns the px of each connected dark patch.
func (c *coarseForm) patchesOf(dark []bool) [][]int {
	seen := make([]bool, len(dark))
	var all [][]int
	for i, d := range dark {
		if !d || seen[i] {
			continue
		}
		patch := []int{i}
		seen[i] = true
		for at := 0; at < len(patch); at++ {
			c.beside(patch[at], func(k int) {
				if dark[k] && !seen[k] {
					seen[k] = true
					patch = append(patch, k)
				}
			})
		}
		all = append(all, patch)
	}
	return all
}

// beside visits the four px beside one.
func (c *coarseForm) beside(i int, visit func(i int)) {
	x, y := i%c.w, i/c.w
	if x > 0 {
		visit(i - 1)
	}
	if x < c.w-1 {
		visit(i + 1)
	}
	if y > 0 {
		visit(i - c.w)
	}
	if y < c.h-1 {
		visit(i + c.w)
	}
}

// widened returns the px within half a mm of a cover: its rim is too bright to be part of it.
func (c *coarseForm) widened(over []bool) ([]bool, error) {
	m := gocv.NewMatWithSize(c.h, c.w, gocv.MatTypeCV8U)
	defer m.Close()
	pix, err := m.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	for i, o := range over {
		pix[i] = 0
		if o {
			pix[i] = 1
		}
	}
	cross := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(3, 3))
	defer cross.Close()
	wide := gocv.NewMat()
	defer wide.Close()
	gocv.DilateWithParams(m, &wide, cross, image.Pt(-1, -1), 1, gocv.BorderConstant, color.RGBA{})
	if pix, err = wide.DataPtrUint8(); err != nil {
		return nil, err
	}
	out := make([]bool, len(over))
	for i, p := range pix {
		out[i] = p > 0
	}
	return out, nil
}
