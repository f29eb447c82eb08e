package byprint

import (
	"errors"
	"fmt"
	"math"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// Pair is one place on the form and where the photo shows it.
type Pair struct {
	Sheet sheetmodel.SheetPoint
	Photo sheetmodel.PhotoPoint
}

// Match is where one form may lie in a photo, as if it were flat.
type Match struct {
	Flat   [9]float64 // homography from mm on the form to px of the photo, row by row
	Pairs  []Pair     // features it rests on
	Spread float64    // share of the form's area that they lie round
}

const (
	fewestInliers = 9
	leastSpread   = 0.06
	inlierMM      = 2.5 // what bent paper may lie off a flat sheet near its middle
	maxSheets     = 12  // of one form in a photo
	// A card seen from near by under 45 degrees shows a mm at its near corner twice as large as at its far one
	// across the slope, and four times as large along it.
	maxStretch = 7.0
)

// ErrNoForm means that too few features of a form are in a photo, or lie as no sheet of paper can.
var ErrNoForm = errors.New("form not found by its print")

// Match returns where the form may lie, the best supported first; nil if nowhere.
//
// No two overlap. A match is a guess: nothing but features spoke for it. Deterministic.
func (f *Form) Match(p *Picture) ([]Match, error) {
	pairs, err := p.likely(f)
	if err != nil {
		return nil, err
	}
	var out []Match
	for range maxSheets {
		near := vote(pairs)
		if near == nil {
			return out, nil
		}
		m, used, err := f.fit(near)
		if err != nil && !errors.Is(err, ErrNoForm) {
			return out, err
		}
		if err == nil {
			out = append(out, m)
			near = used
		}
		pairs = without(pairs, near)
	}
	return out, nil
}

// fit finds the flat map that most of the pairs agree with.
func (f *Form) fit(pairs []pair) (Match, []pair, error) {
	src, dst := gocv.NewMatWithSize(len(pairs), 2, gocv.MatTypeCV64F), gocv.NewMatWithSize(len(pairs), 2, gocv.MatTypeCV64F)
	defer src.Close()
	defer dst.Close()
	scale := 0.0
	for i, p := range pairs {
		src.SetDoubleAt(i, 0, p.sheet.x)
		src.SetDoubleAt(i, 1, p.sheet.y)
		dst.SetDoubleAt(i, 0, p.photo.x)
		dst.SetDoubleAt(i, 1, p.photo.y)
		scale += p.photo.size / p.sheet.size / float64(len(pairs))
	}
	mask := gocv.NewMat()
	defer mask.Close()
	h := gocv.FindHomography(src, &dst, gocv.HomograpyMethodRANSAC, inlierMM*scale, &mask, 4000, 0.999)
	defer h.Close()
	if h.Empty() {
		return Match{}, nil, ErrNoForm
	}
	var m Match
	for i := range 9 {
		m.Flat[i] = h.GetDoubleAt(i/3, i%3)
	}
	var used []pair
	for i, p := range pairs {
		if mask.GetUCharAt(i, 0) != 0 {
			used = append(used, p)
			m.Pairs = append(m.Pairs, Pair{sheetmodel.SheetPoint{X: sheetmodel.MM(p.sheet.x), Y: sheetmodel.MM(p.sheet.y)}, sheetmodel.PhotoPoint{X: p.photo.x, Y: p.photo.y}})
		}
	}
	if len(used) < fewestInliers {
		return m, nil, fmt.Errorf("%w: %d places agree, %d are needed", ErrNoForm, len(used), fewestInliers)
	}
	if m.Spread = spread(used, f.W, f.H); m.Spread < leastSpread {
		return m, nil, fmt.Errorf("%w: all that agrees lies in %.0f %% of it", ErrNoForm, 100*m.Spread)
	}
	if !m.paper(f.W, f.H) {
		return m, nil, fmt.Errorf("%w: no sheet of paper lies like that", ErrNoForm)
	}
	return m, used, nil
}

// paper reports whether the map is one that a camera in front of a sheet can have: not mirrored, nowhere
// behind the camera, not stretched beyond measure.
func (m *Match) paper(w, h sheetmodel.MM) bool {
	low, high := math.Inf(1), 0.0
	for _, c := range [4]sheetmodel.SheetPoint{{}, {X: w}, {X: w, Y: h}, {Y: h}} {
		x, y := float64(c.X), float64(c.Y)
		d := m.Flat[6]*x + m.Flat[7]*y + m.Flat[8]
		if d <= 0 {
			return false
		}
		px, py := (m.Flat[0]*x+m.Flat[1]*y+m.Flat[2])/d, (m.Flat[3]*x+m.Flat[4]*y+m.Flat[5])/d
		ax, ay := (m.Flat[0]-px*m.Flat[6])/d, (m.Flat[3]-py*m.Flat[6])/d
		bx, by := (m.Flat[1]-px*m.Flat[7])/d, (m.Flat[4]-py*m.Flat[7])/d
		area := ax*by - ay*bx // px² a mm²; negative if mirrored
		if area <= 0 {
			return false
		}
		for _, s := range [2]float64{math.Hypot(ax, ay), math.Hypot(bx, by)} {
			low, high = min(low, s), max(high, s)
		}
	}
	return high < maxStretch*low
}

// without returns the pairs of which no used one shares the feature in the photo.
func without(pairs, used []pair) []pair {
	taken := map[[2]float64]bool{}
	for _, p := range used {
		taken[[2]float64{p.photo.x, p.photo.y}] = true
	}
	var rest []pair
	for _, p := range pairs {
		if !taken[[2]float64{p.photo.x, p.photo.y}] {
			rest = append(rest, p)
		}
	}
	return rest
}
