package scan

import (
	"image"
	"math"
	"sort"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// A form that repeats itself can be laid on its own picture in a wrong way and fit nearly everywhere: a row too
// low, or upside down. Each such way is a rival of the right one:
//
//	blank, turned by 0, 90, 180, 270 degrees --where else does each patch fit?--> shifts with many votes
//	each shift: patches that do not fit there are telling; a page must show them
type rival struct {
	turn    int // quarter turns
	shift   sheetmodel.SheetPoint
	telling []int // patches
}

const (
	alikePxPerMM  = 2.5
	alikeScore    = 0.75 // a patch fits elsewhere about as print under writing fits in its place
	alikeBin      = 2.0  // mm
	alikeNear     = 4.0  // mm; nearer is where it belongs
	alikeRivals   = 8    // with the most votes are kept
	alikeShare    = 0.15 // of the patches must vote for a rival to count
	leastTelling  = 5    // patches that a form must have against each rival
	tellingSeen   = 0.6  // of the telling patches in the picture, for a page to be believed
	leastSeenTell = 4
)

// rivalsOf returns the ways in which a face may be laid wrongly on its own picture. Some 0.5 s.
func rivalsOf(f *face) ([]rival, error) {
	w, h := f.blank.w, f.blank.h
	full := gocv.NewMatWithSize(h, w, gocv.MatTypeCV8U)
	defer full.Close()
	pix, err := full.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	for i, v := range f.blank.ink {
		pix[i] = uint8(255 * min(max(v, 0), 1))
	}
	small := gocv.NewMat()
	defer small.Close()
	gocv.Resize(full, &small, image.Pt(int(float64(w)*alikePxPerMM/blankPxPerMM), int(float64(h)*alikePxPerMM/blankPxPerMM)), 0, 0, gocv.InterpolationArea)
	var rivals []rival
	for turn := range 4 {
		found, err := rivalsTurned(f, small, turn)
		if err != nil {
			return nil, err
		}
		rivals = append(rivals, found...)
	}
	return rivals, nil
}

// fitsElsewhere is one patch and where else it fits, in px of the turned small picture.
type fitsElsewhere struct{ dx, dy int }

func rivalsTurned(f *face, small gocv.Mat, turn int) ([]rival, error) {
	turned := gocv.NewMat()
	defer turned.Close()
	switch turn {
	case 0:
		small.CopyTo(&turned)
	case 1:
		gocv.Rotate(small, &turned, gocv.Rotate90Clockwise)
	case 2:
		gocv.Rotate(small, &turned, gocv.Rotate180Clockwise)
	case 3:
		gocv.Rotate(small, &turned, gocv.Rotate90CounterClockwise)
	}
	const half = coarseWindow - 1 // px
	mask := gocv.NewMat()
	defer mask.Close()
	fits := make([][]fitsElsewhere, len(f.patches))
	votes := map[[2]int]int{}
	bin := int(alikeBin * alikePxPerMM)
	for i := range f.patches {
		c := f.patches[i].center
		at := image.Pt(int(float64(c.X)*alikePxPerMM), int(float64(c.Y)*alikePxPerMM))
		window := image.Rect(at.X-half, at.Y-half, at.X+half+1, at.Y+half+1).Intersect(image.Rect(0, 0, small.Cols(), small.Rows()))
		if window.Dx() > turned.Cols() || window.Dy() > turned.Rows() {
			continue
		}
		cut := small.Region(window)
		scores := gocv.NewMat()
		gocv.MatchTemplate(turned, cut, &scores, gocv.TmCcoeffNormed, mask)
		values, err := scores.DataPtrFloat32()
		if err == nil {
			cols := scores.Cols()
			bins := map[[2]int]bool{}
			for k, v := range values {
				dx, dy := k%cols-window.Min.X, k/cols-window.Min.Y
				if v < alikeScore || turn == 0 && math.Hypot(float64(dx), float64(dy)) < alikeNear*alikePxPerMM {
					continue
				}
				fits[i] = append(fits[i], fitsElsewhere{dx, dy})
				// Into its own bin and those beside it, each once.
				bx, by := floorDiv(dx, bin), floorDiv(dy, bin)
				for u := bx - 1; u <= bx+1; u++ {
					for w := by - 1; w <= by+1; w++ {
						bins[[2]int{u, w}] = true
					}
				}
			}
			for b := range bins {
				votes[b]++
			}
		}
		_ = cut.Close()
		_ = scores.Close()
		if err != nil {
			return nil, err
		}
	}
	return topRivals(f, fits, votes, turn, bin), nil
}

func floorDiv(a, b int) int { return int(math.Floor(float64(a) / float64(b))) }

// topRivals keeps the shifts with the most votes, and names the patches against each.
func topRivals(f *face, fits [][]fitsElsewhere, votes map[[2]int]int, turn, bin int) []rival {
	bins := make([][2]int, 0, len(votes))
	for b, n := range votes {
		if float64(n) >= alikeShare*float64(len(f.patches)) {
			bins = append(bins, b)
		}
	}
	sort.Slice(bins, func(i, j int) bool {
		a, b := bins[i], bins[j]
		if votes[a] != votes[b] {
			return votes[a] > votes[b]
		}
		return a[0] < b[0] || a[0] == b[0] && a[1] < b[1]
	})
	var out []rival
	for _, b := range bins {
		if len(out) == alikeRivals {
			break
		}
		x, y := (float64(b[0])+0.5)*float64(bin), (float64(b[1])+0.5)*float64(bin)
		shift := sheetmodel.SheetPoint{X: sheetmodel.MM(x / alikePxPerMM), Y: sheetmodel.MM(y / alikePxPerMM)}
		known := false
		for _, o := range out {
			known = known || sheetDistance(o.shift, shift) < 2*alikeBin
		}
		if known {
			continue
		}
		r := rival{turn: turn, shift: shift}
		for i := range fits {
			there := false
			for _, at := range fits[i] {
				there = there || math.Hypot(float64(at.dx)-x, float64(at.dy)-y) < 1.6*float64(bin)
			}
			if !there {
				r.telling = append(r.telling, i)
			}
		}
		out = append(out, r)
	}
	return out
}

// ambiguous returns the rival that too few patches of the form speak against, or nil.
func ambiguous(rivals []rival) *rival {
	for i := range rivals {
		if len(rivals[i].telling) < leastTelling {
			return &rivals[i]
		}
	}
	return nil
}

// undecided reports whether what was seen of a page does not tell it from one of its rivals.
func undecided(rivals []rival, places []place) bool {
	for _, r := range rivals {
		seen, all := 0, 0
		for _, i := range r.telling {
			if p := &places[i]; p.inside || p.seen {
				all++
				if p.seen {
					seen++
				}
			}
		}
		if seen < leastSeenTell || float64(seen) < tellingSeen*float64(all) {
			return true
		}
	}
	return false
}
