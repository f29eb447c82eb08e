package scan

import (
	"cmp"
	"errors"
	"math"
	"slices"
	"sort"

	"gocv.io/x/gocv"

	"gatefold/scan/byprint"
	"gatefold/sheetmodel"
)

// Where marks have failed, and for forms that have none, the card is sought by its print:
//
//	photo --features--> where each form may lie --follow its print--> judged like any page, and by three things more:
//	   sharp enough (by the print, for no mark tells) · telling places seen · identity read on the straight page, or asked
//
// On a form without marks the walk itself asks whether it has slipped by a row: slip.go.
//
// All of the photo's marks that fit are adopted on the way, as over a fold.

const (
	printLook    = 1400 // px, longer side of the picture that features are sought in
	printGuesses = 6    // of all forms in one photo that are followed
	printSeeds   = 120  // features that guide the walk
	surelyThere  = 30   // features that agree on where a form lies: it is in the photo
	seedSigma    = 0.6  // mm, of a feature's place
)

// candidate is one place where one face may lie.
type candidate struct {
	face  *face
	match byprint.Match
}

// pagesByPrint finds and straightens cards in a photo in which marks showed none. The refusal says why there
// is none by print either, or is why: what most certainly is true of the photo, in this order,
//
//	a form was followed to its end, and refused for what was measured on it    the best supported one says why
//	what spoke against the whole picture: blurred, too few px                  why, as it came
//	so many features agree that a form is there, but it can't be followed      it says why
//	nothing was seen of any                                                    why, as it came
func pagesByPrint(pyr *pyramid, forms *Forms, marks []seenMark, opt Options, why *RefusedError) ([]*Page, error) {
	found, err := candidates(pyr, forms)
	if err != nil {
		return nil, errors.Join(why, err)
	}
	pages, refusal, err := followPrints(pyr, found, forms, marks, opt, nil, why)
	if err == nil && len(pages) == 0 {
		return nil, refusal
	}
	return pages, err
}

// furtherByPrint finds cards of forms without marks beside cards that marks have shown. settled are the corners of
// those. A further card that is surely there and can't be trusted is the error.
func furtherByPrint(pyr *pyramid, forms *Forms, opt Options, settled [][4]sheetmodel.PhotoPoint) ([]*Page, error) {
	plain := &Forms{}
	for _, f := range forms.faces {
		if len(f.marks) == 0 {
			plain.faces = append(plain.faces, f)
		}
	}
	if len(plain.faces) == 0 {
		return nil, nil
	}
	found, err := candidates(pyr, plain)
	if err != nil {
		return nil, err
	}
	found = slices.DeleteFunc(found, func(c candidate) bool { return !c.sure() })
	none := &RefusedError{Fault: FaultNoForm}
	pages, refusal, err := followPrints(pyr, found, plain, nil, opt, settled, none)
	if err == nil && refusal != none {
		err = refusal
	}
	return pages, err
}

// followPrints straightens what lies where candidates say, one card in one place. The refusal is why, or what is more
// certainly true of what was not straightened; the error is any other.
func followPrints(pyr *pyramid, found []candidate, forms *Forms, marks []seenMark, opt Options, settled [][4]sheetmodel.PhotoPoint, why *RefusedError) ([]*Page, *RefusedError, error) {
	var pages []*Page
	followed, tries := false, 0
	for i, c := range found {
		if liesOn(settled, &c) {
			continue
		}
		if tries++; tries > printGuesses {
			break
		}
		f, ok := c.found(marks, forms)
		if !ok {
			continue
		}
		page, err := straighten(pyr, f, opt)
		if err == nil {
			settled = append(settled, page.Corners())
			page, err = tellForms(pyr, page, found, i, forms, marks, opt)
		}
		var refusal *RefusedError
		if errors.As(err, &refusal) && refusal.otherSheet {
			tries-- // a list may have any number of sheets, and all lie in the same place
		}
		switch {
		case err == nil:
			pages = append(pages, page)
		case errors.As(err, &refusal) && refusal.Fault != FaultPrint && (refusal.Fault != FaultSmall || c.sure()):
			if !followed {
				why, followed = refusal, true
			}
			settled = append(settled, f.Corners)
		case errors.As(err, &refusal) && c.sure() && (why.Fault == FaultNoMarks || why.Fault == FaultFewMarks || why.Fault == FaultNoForm):
			why = refusal // the form is there, but lies so that it can't be followed
		case !errors.As(err, &refusal):
			var unknown *UnknownLayoutError
			if errors.As(err, &unknown) {
				return pages, why, err
			}
		}
	}
	return pages, why, nil
}

// tellForms holds a page that was found by print against the other forms that may lie where it lies: a league's card of
// this season and of the last have most of their print in common. What it returns is the one of which clearly more is
// seen; where none is, the best with the others as its Or. It closes the pages that it doesn't return. The error is of
// a card that may be ours as well: which one it is, it would say itself, so it is refused and taken again.
func tellForms(pyr *pyramid, page *Page, found []candidate, i int, forms *Forms, marks []seenMark, opt Options) (*Page, error) {
	at := [][4]sheetmodel.PhotoPoint{page.Corners()}
	all := []*Page{page}
	tried := map[*face]bool{found[i].face: true}
	for j := range found {
		c := &found[j]
		if tried[c.face] || len(c.face.marks) > 0 && len(found[i].face.marks) > 0 || !liesOn(at, c) {
			continue
		}
		f, ok := c.found(marks, forms)
		if !ok {
			continue
		}
		other, err := straighten(pyr, f, opt)
		if err != nil {
			continue
		}
		tried[c.face] = true
		all = append(all, other)
	}
	slices.SortStableFunc(all, func(a, b *Page) int { return cmp.Compare(b.Quality.PrintSeen, a.Quality.PrintSeen) })
	best := all[0]
	for _, o := range all[1:] {
		if o.Quality.PrintSeen < best.Quality.PrintSeen-alikeSeen {
			_ = o.Close() // frees a Mat
			continue
		}
		best.Or = append(best.Or, o)
	}
	ours := func(p *Page) bool { return len(p.Side.Marks) > 0 }
	if len(best.Or) > 0 && (ours(best) || slices.ContainsFunc(best.Or, ours)) {
		err := best.TwoForms()
		return nil, errors.Join(err, best.Close())
	}
	return best, nil
}

// firstRefusal returns the first of errors that are all refusals.
func firstRefusal(errs []error) *RefusedError {
	for _, err := range errs {
		var refusal *RefusedError
		if errors.As(err, &refusal) {
			return refusal
		}
	}
	return refused(FaultNoMarks, "take it again with the whole card in the picture, sharp and evenly lit", "no card found")
}

// candidates returns where forms may lie, best supported first.
func candidates(pyr *pyramid, forms *Forms) ([]candidate, error) {
	v := pyr.near(printLook)
	k := min(1, printLook/float64(max(v.w, v.h)))
	small := gocv.NewMat()
	defer small.Close()
	gocv.Resize(v.mat, &small, v.scaled(k), 0, 0, gocv.InterpolationArea)
	picture, err := byprint.Look(small, float64(small.Cols())/float64(pyr.levels[0].w))
	if err != nil {
		return nil, err
	}
	defer func() { _ = picture.Close() }()
	faces := forms.outlines()
	for _, f := range forms.faces {
		if len(f.marks) == 0 {
			faces = append(faces, f)
		}
	}
	var out []candidate
	for _, f := range faces {
		own, err := f.prints()
		if err != nil {
			continue // a form of ours with too little print: marks alone can find it
		}
		matches, err := own.form.Match(picture)
		if err != nil {
			return nil, err
		}
		if len(f.marks) == 0 {
			matches = append(matches, own.form.MatchFrames(picture)...)
		}
		for _, m := range matches {
			c := candidate{f, m}
			if !f.upright || c.upright() {
				out = append(out, c)
			}
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return len(out[i].match.Pairs) > len(out[j].match.Pairs) })
	return out, nil
}

// sure reports whether so many features agree that the form is in the photo, wherever it may turn out to lie.
func (c *candidate) sure() bool { return len(c.match.Pairs) >= surelyThere }

// upright reports whether the form's top points up in the photo, within 45 degrees.
func (c *candidate) upright() bool {
	flat := homography(c.match.Flat)
	a := flat.at(sheetmodel.SheetPoint{X: 0.25 * c.face.side.W, Y: c.face.side.H / 2})
	b := flat.at(sheetmodel.SheetPoint{X: 0.75 * c.face.side.W, Y: c.face.side.H / 2})
	return b.X-a.X > math.Abs(b.Y-a.Y)
}

// found makes a candidate what finding by marks returns.
func (c *candidate) found(marks []seenMark, forms *Forms) (Found, bool) {
	g := group{face: c.face, flat: homography(c.match.Flat), spare: marks}
	step := max(1, len(c.match.Pairs)/printSeeds)
	for i := 0; i < len(c.match.Pairs); i += step {
		g.prints = append(g.prints, PointPair{Sheet: c.match.Pairs[i].Sheet, Photo: c.match.Pairs[i].Photo})
	}
	paper, err := paperFromMarks(&g)
	if err != nil {
		return Found{}, false
	}
	f := Found{Side: c.face.side.Name, MarksOf: len(c.face.marks), PxPerMM: meanPxPerMM(&paper, c.face.side), paper: paper, face: c.face, group: g}
	f.like = []*face{c.face}
	for _, o := range forms.faces {
		if _, same := c.face.sameMarks(o); same && o != c.face && len(o.marks) > 0 {
			f.like = append(f.like, o)
		}
	}
	for i, p := range corners(sheetmodel.Rect{W: c.face.side.W, H: c.face.side.H}) {
		f.Corners[i] = f.paper.at(p)
	}
	return f, true
}

// byPrint reports whether features of print, not marks, told where the card lies.
func (f *Found) byPrint() bool { return len(f.group.prints) > 0 }

// liesOn reports whether the candidate's middle lies on a card that was found already, or found and refused:
// a second guess at a card cut by the picture's edge would be a worse one.
func liesOn(cards [][4]sheetmodel.PhotoPoint, c *candidate) bool {
	flat := homography(c.match.Flat)
	middle := flat.at(sheetmodel.SheetPoint{X: c.face.side.W / 2, Y: c.face.side.H / 2})
	for _, cs := range cards {
		in := true
		for i, a := range cs {
			b := cs[(i+1)%4]
			in = in && (b.X-a.X)*(middle.Y-a.Y)-(b.Y-a.Y)*(middle.X-a.X) > 0
		}
		if in {
			return true
		}
	}
	return false
}

// believe returns the refusal that a page followed by print alone calls for beyond what all pages must
// show, or nil; q gets what was measured.
func (f *face) believe(pyr *pyramid, paper *sheetMap, places []place, q *Quality) *RefusedError {
	q.ByPrint = true
	q.SigmaMM, q.Contrast = printSharpness(pyr.at(9, q.PxPerMM), f, paper, places)
	if err := q.tooPoor(); err != nil {
		return err
	}
	if squeezed(paper, places) {
		return refused(FaultPrint, "lay the card flat with nothing on it and take it again",
			"the card is folded or curled too much to be followed by its print alone")
	}
	own, err := f.prints()
	if err != nil || undecided(own.rivals, places) {
		return refused(FaultPrint, "lay the card flat with nothing on it and take it again",
			"too little of what tells the form's rows and its top from its foot can be seen")
	}
	if len(f.side.Fields) > 0 {
		return nil
	}
	photo := &pyr.levels[0]
	for i := range places {
		if p := paper.at(places[i].patch.center); p.X < 0 || p.Y < 0 || p.X > float64(photo.w-1) || p.Y > float64(photo.h-1) {
			return refused(FaultOutside, "step back and take it again with the whole card in the picture", "part of the form is outside the picture")
		}
	}
	return nil
}

// What bent paper can make of a small piece of itself in a picture, as a share of what it makes of most. A walk
// that slipped by a row beyond a fold squeezes that row; without marks beyond it nothing else would tell.
const (
	leastStretch  = 0.52
	leastStretch5 = 0.6 // of the 5th percentile
	mostStretch   = 1.6
)

// squeezed reports whether the map's bend gives a piece of paper, at the places in the picture, an area that
// differs too much from the median.
func squeezed(paper *sheetMap, places []place) bool {
	var areas []float64
	for i := range places {
		if p := &places[i]; p.inside {
			jx, jy := bendSlope(paper.bend, p.patch.center)
			areas = append(areas, (1+jx[0])*(1+jy[1])-jx[1]*jy[0])
		}
	}
	if len(areas) == 0 {
		return true
	}
	sort.Float64s(areas)
	n, median := len(areas), areas[len(areas)/2]
	return areas[0] < leastStretch*median || areas[n*5/100] < leastStretch5*median || areas[n-1] > mostStretch*median
}
