package scan

import (
	"image"
	"image/color"
	"math"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// A form that repeats itself can be laid on its own picture in a wrong way and fit nearly everywhere: a row too
// low, or upside down. Each such way is a rival of the right one:
//
//	blank on itself, upright and upside down --correlation--> shifts at which much of it fits
//	each shift: patches that do not fit there are telling; a page must show them
type rival struct {
	turn    int // quarter turns
	shift   sheetmodel.SheetPoint
	telling []int // patches
}

const (
	alikePxPerMM  = 2.5
	alikeScore    = 0.75 // a patch fits elsewhere about as print under writing fits in its place
	alikeReach    = 3.2  // mm that bent paper may add to a shift
	alikeNear     = 6.0  // mm; nearer is where it belongs
	alikeRivals   = 8    // shifts that are looked into for each turn
	alikeShare    = 0.15 // of the patches must fit for a shift to be a rival
	alikeSquare   = 0.8  // shorter to longer side: less square forms don't fit when turned by a quarter
	leastTelling  = 5    // patches that a form must have against each rival
	tellingSeen   = 0.6  // of the telling patches in the picture, for a page to be believed
	leastSeenTell = 4
)

// rivalsOf returns the ways in which a face may be laid wrongly on its own picture. Some 0.3 s.
func rivalsOf(f *face) ([]rival, error) {
	w, h := f.blank.w, f.blank.h
	small, err := f.blank.smaller()
	if err != nil {
		return nil, err
	}
	defer small.Close()
	var rivals []rival
	for turn := range 4 {
		if turn%2 == 1 && float64(min(w, h)) < alikeSquare*float64(max(w, h)) {
			continue
		}
		found, err := rivalsTurned(f, small, turn)
		if err != nil {
			return nil, err
		}
		rivals = append(rivals, found...)
	}
	return rivals, nil
}

// smaller returns the form's ink at alikePxPerMM. The caller closes it.
func (b *blank) smaller() (gocv.Mat, error) {
	full := gocv.NewMatWithSize(b.h, b.w, gocv.MatTypeCV8U)
	defer full.Close()
	pix, err := full.DataPtrUint8()
	if err != nil {
		return gocv.Mat{}, err
	}
	for i, v := range b.ink {
		pix[i] = uint8(255 * min(max(v, 0), 1))
	}
	small := gocv.NewMat()
	const k = alikePxPerMM / blankPxPerMM
	gocv.Resize(full, &small, image.Pt(int(float64(b.w)*k), int(float64(b.h)*k)), 0, 0, gocv.InterpolationArea)
	return small, nil
}

// rivalsTurned returns the shifts at which the form fits on itself turned.
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
	// White paper all round, so that most of the form may lie outside itself.
	padX, padY := small.Cols()*4/5, small.Rows()*4/5
	padded := gocv.NewMat()
	defer padded.Close()
	gocv.CopyMakeBorder(turned, &padded, padY, padY, padX, padX, gocv.BorderConstant, color.RGBA{})
	shifts, err := bestShifts(small, padded, image.Pt(padX, padY), turn, alikeNear)
	if err != nil {
		return nil, err
	}
	var out []rival
	for _, d := range shifts {
		r := rival{turn: turn, shift: sheetmodel.SheetPoint{X: sheetmodel.MM(float64(d.X) / alikePxPerMM), Y: sheetmodel.MM(float64(d.Y) / alikePxPerMM)}}
		fits := 0
		for i := range f.patches() {
			if fitsAt(small, padded, f.patches()[i].center, d.Add(image.Pt(padX, padY))) {
				fits++
			} else {
				r.telling = append(r.telling, i)
			}
		}
		if float64(fits) >= alikeShare*float64(len(f.patches())) {
			out = append(out, r)
		}
	}
	return out, nil
}

// bestShifts returns the shifts, in px, at which the small picture lies best on the padded one; upright ones of less than
// nearest mm are where it belongs.
func bestShifts(small, padded gocv.Mat, pad image.Point, turn int, nearest float64) ([]image.Point, error) {
	mask, scores := gocv.NewMat(), gocv.NewMat()
	defer mask.Close()
	defer scores.Close()
	gocv.MatchTemplate(padded, small, &scores, gocv.TmCcoeff, mask)
	values, err := scores.DataPtrFloat32()
	if err != nil {
		return nil, err
	}
	cols, rows := scores.Cols(), scores.Rows()
	const near = int(alikeReach * alikePxPerMM)
	var shifts []image.Point
	for range alikeRivals {
		best, at := float32(0), -1
		for k, v := range values {
			if v <= best {
				continue
			}
			d := image.Pt(k%cols, k/cols).Sub(pad)
			if turn == 0 && math.Hypot(float64(d.X), float64(d.Y)) < nearest*alikePxPerMM {
				continue
			}
			best, at = v, k
		}
		if at < 0 {
			break
		}
		shifts = append(shifts, image.Pt(at%cols, at/cols).Sub(pad))
		for y := max(0, at/cols-near); y <= min(rows-1, at/cols+near); y++ {
			for x := max(0, at%cols-near); x <= min(cols-1, at%cols+near); x++ {
				values[y*cols+x] = 0
			}
		}
	}
	return shifts, nil
}

// fitsAt reports whether the patch round c looks like what lies d px farther on the padded picture, or near there.
func fitsAt(small, padded gocv.Mat, c sheetmodel.SheetPoint, d image.Point) bool {
	const half, near = coarseWindow - 1, int(alikeReach * alikePxPerMM)
	at := image.Pt(int(float64(c.X)*alikePxPerMM), int(float64(c.Y)*alikePxPerMM))
	window := image.Rect(at.X-half, at.Y-half, at.X+half+1, at.Y+half+1).Intersect(image.Rect(0, 0, small.Cols(), small.Rows()))
	around := window.Add(d).Inset(-near).Intersect(image.Rect(0, 0, padded.Cols(), padded.Rows()))
	if around.Dx() < window.Dx() || around.Dy() < window.Dy() {
		return false
	}
	cut, there := small.Region(window), padded.Region(around)
	defer cut.Close()
	defer there.Close()
	mask, scores := gocv.NewMat(), gocv.NewMat()
	defer mask.Close()
	defer scores.Close()
	gocv.MatchTemplate(there, cut, &scores, gocv.TmCcoeffNormed, mask)
	_, best, _, _ := gocv.MinMaxLoc(scores)
	return best >= alikeScore
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
