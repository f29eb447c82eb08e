package scan

import (
	"image"
	"math"
	"slices"

	"gatefold/sheetmodel"
)

// A patch is a small window of the blank form with print in it, ready to be searched in a photo.
//
//	coarse: normalised cross-correlation over shifts of ±2.5 mm, 2.5 px/mm
//	fine:   inverse compositional search for the shift, brightness and contrast free, 5 px/mm
//
// Only px near print take part, so handwriting in a box and light across it hardly matter.
//
// Source of the fine search: Baker & Matthews, Lucas-Kanade 20 years on, IJCV 56 (2004), section 3.2.
type patch struct {
	center sheetmodel.SheetPoint
	fine   []sample
	coarse []sample
	hess   [3]float64 // Σ slopes, xx, xy, yy
	lines  [2]line    // those that run down, and across; only of forms without marks
}

// sample is one px of a patch.
type sample struct {
	dx, dy float32 // mm from the patch's centre
	ink    float32 // mean 0, mean square 1 over the patch
	sx, sy float32 // slope of ink per mm, free of brightness and contrast
	ix, iy int16   // place on the coarse net
}

const (
	patchPitch   = 8.0 // mm
	patchSize    = 9.0 // mm
	coarsePxPer  = 2.5 // px/mm
	coarseReach  = 6   // px of the coarse net: 2.4 mm, less than half a row
	minPatchInk  = 35  // px that carry ink: one line across is enough, it holds the paper one way
	minPatchLine = 25  // px along lines, that are enough too: 5 mm, and 0.6 mm at each end, from which a line doesn't go on
	weakWay      = 0.1 // of the slopes along the print to those across, from which it holds both ways
	coarseWindow = 12  // half a patch on the coarse net, rounded up
)

// choosePatches returns the places of a side that hold enough print, row by row.
func choosePatches(f *face) []patch {
	var patches []patch
	var room []sample
	for _, c := range patchNet(f.side) {
		if !f.enoughPrint(c) {
			continue
		}
		var p patch
		var ok bool
		if p, room, ok = makePatch(f.blank, c, room[:0]); ok {
			if len(f.marks) == 0 && p.twoWays() {
				p.lines = linesOf(f.blank, &p)
			}
			patches = append(patches, p)
		}
	}
	return patches
}

// countPatches returns how many places of a side hold enough print, without cutting the patches.
func countPatches(f *face) int {
	n := 0
	for _, c := range patchNet(f.side) {
		if f.enoughPrint(c) {
			n++
		}
	}
	return n
}

// enoughPrint reports whether there is enough print at c for a patch. How dark the darkest px of a thin line is hangs on where
// it falls between px, and on some cards all lines are grey. So on a form without marks a line counts that can be told from
// grain: it goes on straight, and is darker than the paper beside it. Our own card's lines are dark enough.
func (f *face) enoughPrint(c sheetmodel.SheetPoint) bool {
	window := patchWindow(f.blank, c)
	return f.blank.inked(window) >= minPatchInk || len(f.marks) == 0 && f.blank.lined(window) >= minPatchLine
}

// patchNet returns the places of a side at which patches may be cut.
func patchNet(side *sheetmodel.Side) []sheetmodel.SheetPoint {
	var net []sheetmodel.SheetPoint
	nx, ny := int(float64(side.W)/patchPitch), int(float64(side.H)/patchPitch)
	for j := range ny {
		for i := range nx {
			net = append(net, sheetmodel.SheetPoint{
				X: side.W * sheetmodel.MM(float64(i)+0.5) / sheetmodel.MM(nx),
				Y: side.H * sheetmodel.MM(float64(j)+0.5) / sheetmodel.MM(ny),
			})
		}
	}
	return net
}

// patchWindow returns the px of the blank form within half a patch of c, in both ways but for those at its edge.
func patchWindow(b *blank, c sheetmodel.SheetPoint) image.Rectangle {
	half := int(math.Round(patchSize * blankPxPerMM / 2))
	cx, cy := patchCenter(c)
	return image.Rect(cx-half, cy-half, cx+half+1, cy+half+1).Intersect(image.Rect(1, 1, b.w-1, b.h-1))
}

// patchCenter returns the px of the blank form at c.
func patchCenter(c sheetmodel.SheetPoint) (x, y int) {
	center := sheetmodel.PageFromSheet(c, blankPxPerMM)
	return int(math.Round(center.X)), int(math.Round(center.Y))
}

// inked counts the px of a window that carry ink that every such card has.
func (b *blank) inked(window image.Rectangle) int {
	n := 0
	for y := window.Min.Y; y < window.Max.Y; y++ {
		for x := window.Min.X; x < window.Max.X; x++ {
			if i := y*b.w + x; b.near[i] && b.ink[i] > 0.3 {
				n++
			}
		}
	}
	return n
}

// makePatch cuts a patch from the blank form; ok is false if nothing is printed there. room is to work in,
// and returned for the next.
func makePatch(b *blank, c sheetmodel.SheetPoint, room []sample) (p patch, used []sample, ok bool) {
	window := patchWindow(b, c)
	cx, cy := patchCenter(c)
	// The centre moves to a whole px, so that ink needs no interpolation.
	p.center = sheetmodel.SheetFromPage(sheetmodel.PagePoint{X: float64(cx), Y: float64(cy)}, blankPxPerMM)
	for y := window.Min.Y; y < window.Max.Y; y++ {
		for x := window.Min.X; x < window.Max.X; x++ {
			i := y*b.w + x
			if !b.near[i] {
				continue
			}
			room = append(room, sample{
				dx: float32(x-cx) / blankPxPerMM, dy: float32(y-cy) / blankPxPerMM, ink: b.ink[i],
				sx: (b.ink[i+1] - b.ink[i-1]) * blankPxPerMM / 2,
				sy: (b.ink[i+b.w] - b.ink[i-b.w]) * blankPxPerMM / 2,
			})
		}
	}
	if !normaliseSamples(room) {
		return p, room, false
	}
	p.fine = slices.Clone(room)
	for i := range p.fine {
		s := &p.fine[i]
		p.hess[0] += float64(s.sx * s.sx)
		p.hess[1] += float64(s.sx * s.sy)
		p.hess[2] += float64(s.sy * s.sy)
	}
	p.coarse = slices.Clone(coarsen(p.fine))
	return p, room, true
}

// twoWays reports whether the patch's print holds the paper both ways.
func (p *patch) twoWays() bool {
	mean := (p.hess[0] + p.hess[2]) / 2
	spread := math.Hypot((p.hess[0]-p.hess[2])/2, p.hess[1])
	return mean-spread > weakWay*(mean+spread)
}

// ways says which ways the patch's print holds the paper, of directions that turn from right to down and left.
func (p *patch) ways() (holds [heldWays]bool) {
	mean := (p.hess[0] + p.hess[2]) / 2
	most := mean + math.Hypot((p.hess[0]-p.hess[2])/2, p.hess[1])
	for k := range holds {
		sin, cos := math.Sincos(float64(k) * math.Pi / heldWays)
		holds[k] = p.hess[0]*cos*cos+2*p.hess[1]*cos*sin+p.hess[2]*sin*sin > weakWay*most
	}
	return holds
}

// normaliseSamples brings ink to mean 0 and mean square 1, and takes out of the slopes what a change of
// brightness or contrast could explain.
func normaliseSamples(samples []sample) bool {
	n := float64(len(samples))
	var mean, square float64
	for _, s := range samples {
		mean += float64(s.ink) / n
		square += float64(s.ink*s.ink) / n
	}
	sd := math.Sqrt(max(square-mean*mean, 0))
	if sd < 0.05 {
		return false
	}
	var mx, my, tx, ty float64
	for i := range samples {
		s := &samples[i]
		s.ink = float32((float64(s.ink) - mean) / sd)
		s.sx /= float32(sd)
		s.sy /= float32(sd)
		mx += float64(s.sx) / n
		my += float64(s.sy) / n
		tx += float64(s.sx*s.ink) / n
		ty += float64(s.sy*s.ink) / n
	}
	for i := range samples {
		s := &samples[i]
		s.sx -= float32(mx) + float32(tx)*s.ink
		s.sy -= float32(my) + float32(ty)*s.ink
	}
	return true
}

// coarsen averages the fine samples over the cells of the coarse net.
func coarsen(fine []sample) []sample {
	const width = 2*coarseWindow + 1
	var sums, counts [width * width]float32
	for _, s := range fine {
		x, y := int(math.Round(float64(s.dx)*coarsePxPer)), int(math.Round(float64(s.dy)*coarsePxPer))
		sums[(y+coarseWindow)*width+x+coarseWindow] += s.ink
		counts[(y+coarseWindow)*width+x+coarseWindow]++
	}
	var out []sample
	for i, n := range counts {
		if n >= 2 { // a cell cut by the patch's edge says little
			out = append(out, sample{ix: int16(i%width - coarseWindow), iy: int16(i/width - coarseWindow), ink: sums[i] / n})
		}
	}
	normaliseSamples(out)
	return out
}
