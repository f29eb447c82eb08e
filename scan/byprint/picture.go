package byprint

import (
	"math"
	"slices"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// Picture is a photo with its features. Close it. Not changed by matching: safe for concurrent use.
type Picture struct {
	features []feature
	desc     gocv.Mat
	frames   [][4][2]float64 // px wanted
	grey     []uint8         // the picture itself, w × h, scale px a px wanted
	w, h     int
	scale    float64
}

// Look takes up the features of a photo. photo is 8-bit grey and stays the caller's; scale is px of photo a
// px of the picture that results are wanted in, 1 for photo itself. 1,500 px along the longer side are enough,
// and cost 0.4 s.
func Look(photo gocv.Mat, scale float64) (*Picture, error) {
	features, desc, err := detect(photo, photoFeatures)
	if err != nil {
		return nil, err
	}
	for i := range features {
		f := &features[i]
		f.x, f.y, f.size = sheetmodel.ScalePx(f.x, 1/scale), sheetmodel.ScalePx(f.y, 1/scale), f.size/scale
	}
	pix, err := photo.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	p := &Picture{features: features, frames: outlines(photo), grey: slices.Clone(pix), w: photo.Cols(), h: photo.Rows(), scale: scale}
	for i := range p.frames {
		for k := range p.frames[i] {
			for axis := range 2 {
				p.frames[i][k][axis] = sheetmodel.ScalePx(p.frames[i][k][axis], 1/scale)
			}
		}
	}
	if len(features) == 0 {
		p.desc = gocv.NewMat()
		return p, nil
	}
	if p.desc, err = matOf(desc); err != nil {
		return nil, err
	}
	return p, nil
}

// Close frees the features.
func (p *Picture) Close() error { return p.desc.Close() }

// pair is a feature of the form and one of the photo that look alike.
type pair struct{ sheet, photo feature }

// sameTurn and sameScale bound how far a second match may disagree with the turn and scale of a first: tilted
// by 45 degrees, a card's near and far ends differ by as much.
const (
	maxRatio  = 0.82 // of the nearest to the second nearest descriptor's distance
	sameTurn  = 0.7  // rad
	sameScale = 1.9
	// A second match may lie this far from where the first puts it.
	voteSlack      = 3.0 // mm
	voteSlackShare = 0.3 // of the distance between the two
)

// likely returns the pairs that are alike, and whose form feature has no twin on the form.
func (p *Picture) likely(f *Form) ([]pair, error) {
	if len(p.features) < fewestInliers || len(f.features) < fewestInliers {
		return nil, nil
	}
	train, err := matOf(f.desc)
	if err != nil {
		return nil, err
	}
	defer train.Close()
	matcher := gocv.NewBFMatcher()
	defer func() { _ = matcher.Close() }()
	// From photo to form: so two cards of one form in a photo don't drown each other.
	var pairs []pair
	for _, m := range matcher.KnnMatch(p.desc, train, 2) {
		if len(m) == 2 && m[0].Distance < maxRatio*m[1].Distance {
			pairs = append(pairs, pair{f.features[m[0].TrainIdx], p.features[m[0].QueryIdx]})
		}
	}
	return pairs, nil
}

// vote returns, for the pair that most others agree with, all that agree with it; nil if they are too few.
func vote(pairs []pair) []pair {
	var best []int
	for i := range pairs {
		var agree []int
		a := &pairs[i]
		k := a.photo.size / a.sheet.size
		sin, cos := math.Sincos(a.photo.angle - a.sheet.angle)
		sin, cos = sin*k, cos*k
		for j := range pairs {
			b := &pairs[j]
			u, v := b.sheet.x-a.sheet.x, b.sheet.y-a.sheet.y
			dx := a.photo.x + cos*u - sin*v - b.photo.x
			dy := a.photo.y + sin*u + cos*v - b.photo.y
			turn := math.Abs(math.Remainder(b.photo.angle-b.sheet.angle-a.photo.angle+a.sheet.angle, 2*math.Pi))
			scale := b.photo.size / b.sheet.size / k
			if math.Hypot(dx, dy) < k*(voteSlack+voteSlackShare*math.Hypot(u, v)) && turn < sameTurn && scale < sameScale && scale > 1/sameScale {
				agree = append(agree, j)
			}
		}
		if len(agree) > len(best) {
			best = agree
		}
	}
	if len(best) < fewestInliers {
		return nil
	}
	out := make([]pair, len(best))
	for k, i := range best {
		out[k] = pairs[i]
	}
	return out
}

// spread returns the share of a form's area that lies within the convex hull of the pairs' places.
func spread(pairs []pair, w, h sheetmodel.MM) float64 {
	points := make([][2]float64, len(pairs))
	for i, p := range pairs {
		points[i] = [2]float64{p.sheet.x, p.sheet.y}
	}
	return areaOf(convexHull(points)) / float64(w*h)
}
