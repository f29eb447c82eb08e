package scan

import (
	"errors"
	"math"
	"slices"
	"sort"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// Find returns all sides of cards in photo that show at least three of their marks, the nearest
// to the camera first.
//
// photo is 8-bit grey as Decode returns it; it stays the caller's, unchanged. An empty result is not an
// error here; Pages makes it one. Two prints of one card that name different cards are a *RefusedError.
// Safe for concurrent use.
func Find(photo gocv.Mat, forms *Forms) ([]Found, error) {
	pyr, err := newPyramid(photo, levelForMarks/2)
	if err != nil {
		return nil, err
	}
	defer pyr.close()
	found, _, err := find(pyr, forms)
	return found, err
}

// find also returns all marks that were seen.
func find(pyr *pyramid, forms *Forms) (found []Found, marks []seenMark, err error) {
	outlines := forms.outlines()
	var groups []group
	for i := len(pyr.levels) - 1; i >= 0; i-- {
		v := &pyr.levels[i]
		if max(v.w, v.h) < levelForMarks && i > 0 {
			if marks = atOnce(pyr, i, outlines); marks != nil {
				groups = groupMarks(marks, outlines)
				break
			}
			continue
		}
		for _, m := range findMarks(v) {
			marks = addMark(marks, m)
		}
		groups = groupMarks(marks, outlines)
		// The next finer level costs four times as much: it is for cards far away, and marks half hidden.
		if len(groups) > 0 && len(groups[0].marks) >= len(groups[0].face.marks)-1 {
			break
		}
	}
	var faults []error
	for _, g := range groups {
		f, err := forms.identify(pyr, g)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		found = append(found, f)
	}
	sort.SliceStable(found, func(i, j int) bool { return found[i].PxPerMM > found[j].PxPerMM })
	return found, marks, errors.Join(faults...)
}

// identify reads a group's identity and chooses its layout.
func (f *Forms) identify(pyr *pyramid, g group) (Found, error) {
	paper, err := paperFromMarks(&g)
	if err != nil {
		return Found{}, err
	}
	out := Found{
		Side: g.face.side.Name, Marks: len(g.marks), MarksOf: len(g.face.marks),
		PxPerMM: meanPxPerMM(&paper, g.face.side), paper: paper, face: g.face, group: g,
	}
	for _, other := range f.faces {
		if _, same := g.face.sameMarks(other); same {
			out.like = append(out.like, other)
		}
	}
	id, refusal := readIdentity(pyr.at(levelForPrint, out.PxPerMM), &paper, g.face.side.Identity)
	if refusal != nil {
		return Found{}, refusal
	}
	if id != nil {
		if err := out.name(id); err != nil {
			return Found{}, err
		}
	}
	for i, c := range corners(sheetmodel.Rect{W: out.face.side.W, H: out.face.side.H}) {
		out.Corners[i] = out.paper.at(c)
	}
	return out, nil
}

// name takes over an identity that was read and moves the card to the layout it names.
func (f *Found) name(id *sheetmodel.Identity) error {
	if id.Side != f.Side {
		return refused(FaultIdentity, "keep the card aside and ask whose it is",
			"the marks are those of a %s, the printed identity that of a %s", f.Side, id.Side)
	}
	for _, face := range f.like {
		if face.hash == id.Layout {
			f.Identity = id
			return f.use(face)
		}
	}
	return &UnknownLayoutError{Layout: id.Layout, Card: id.Card}
}

// use lays the found marks on another face, whose marks lie alike but for a shift.
func (f *Found) use(face *face) error {
	if face == f.face {
		return nil
	}
	g := group{face: face, marks: f.group.marks}
	var pairs []PointPair
	if f.byPrint() {
		g.spare = f.group.spare
		shift, _ := f.face.sameMarks(face)
		for _, p := range f.group.prints {
			p.Sheet = sheetmodel.SheetPoint{X: p.Sheet.X + shift.X, Y: p.Sheet.Y + shift.Y}
			g.prints = append(g.prints, p)
		}
		pairs = slices.Clone(g.prints)
	}
	for _, m := range g.marks {
		rect, _ := face.mark(m.id)
		pairs = append(pairs, cornerPairs(rect, m)...)
	}
	var ok bool
	if g.flat, ok = fitHomography(pairs); !ok {
		return errSingular
	}
	paper, err := paperFromMarks(&g)
	if err != nil {
		return err
	}
	f.face, f.group, f.paper = face, g, paper
	f.PxPerMM = meanPxPerMM(&paper, face.side)
	return nil
}

// leastInPicture is the share of a card that must be in the picture for a person to expect it to be read;
// what shows less is a neighbour on the table.
const leastInPicture = 0.6

// Pages finds and straightens all cards in photo, EXIF turn applied.
//
// Pages come nearest to the camera first; the caller closes each. The error joins a *RefusedError or
// *UnknownLayoutError for each card that was not straightened, and pages may come with an error. A
// card of which less than 0.6 is in the picture is passed over where others were found.
// photo stays the caller's, unchanged. Safe for concurrent use.
func Pages(photo gocv.Mat, forms *Forms, opt Options) ([]*Page, error) {
	pyr, err := newPyramid(photo, levelForMarks/2)
	if err != nil {
		return nil, err
	}
	defer pyr.close()
	found, marks, err := find(pyr, forms)
	var faults []error
	if err != nil {
		faults = append(faults, err)
	}
	if len(found) == 0 && err == nil {
		return pagesByPrint(pyr, forms, marks, opt, notFound(pyr, forms, marks))
	}
	var pages []*Page
	var cut []error
	for _, f := range found {
		page, err := straighten(pyr, f, opt)
		var refusal *RefusedError
		switch {
		case err == nil:
			pages = append(pages, page)
		case errors.As(err, &refusal) && inPicture(&f.paper, f.face.side, photo.Cols(), photo.Rows()) < leastInPicture:
			cut = append(cut, err)
		default:
			faults = append(faults, err)
		}
	}
	if len(pages) == 0 && len(faults) == 0 {
		// Only neighbours showed their marks. That they are cut off is no news where all is blurred.
		why := firstRefusal(cut)
		if all := notFound(pyr, forms, marks); all.Fault == FaultBlurred {
			why = all
		}
		return pagesByPrint(pyr, forms, marks, opt, why)
	}
	if len(pages) == 0 {
		faults = append(faults, cut...)
	}
	var places [][4]sheetmodel.PhotoPoint
	for _, f := range found {
		places = append(places, f.Corners)
	}
	further, err := furtherByPrint(pyr, forms, opt, places)
	if err != nil {
		faults = append(faults, err)
	}
	return append(pages, further...), errors.Join(faults...)
}

// notFound says why a photo shows no card: blur if the few marks seen are blurred, or even the sharpest
// edges are spread wide.
func notFound(pyr *pyramid, forms *Forms, marks []seenMark) *RefusedError {
	for _, m := range marks {
		rect, ok := forms.faces[0].mark(m.id)
		if !ok {
			continue
		}
		pxPerMM := m.size / float64(rect.W)
		if sigma, _ := sharpness(pyr.at(9, pxPerMM), forms.faces[0], []seenMark{m}, pxPerMM); sigma > maxSigma {
			return (&Quality{PxPerMM: minPxPerMM, SigmaMM: sigma}).tooPoor()
		}
	}
	b, err := pictureBlur(pyr.near(levelForMarks / 2))
	if err != nil || math.IsInf(b, 0) {
		return refused(FaultNoMarks, "take it again with the whole card in the picture, sharp and evenly lit",
			"no card found: the picture shows no edge of anything")
	}
	if b > maxPictureBlur {
		return refused(FaultBlurred, "hold still, let the phone focus on the card and take it again",
			"no card found: even the sharpest edges are blurred over %.1f %% of the picture", 200*b)
	}
	const remedy = "take it again with the whole card in the picture, sharp and evenly lit"
	if full := fullPxPerMM(&pyr.levels[0], forms); full < minPxPerMM {
		return refused(FaultSmall, "take it with more pixels and send the phone's own file, not a preview of it",
			"no card found: the picture has %d by %d px, so even a card that fills it has only %.1f px per mm; %.1f are needed",
			pyr.levels[0].w, pyr.levels[0].h, full, minPxPerMM)
	}
	if !forms.marked() {
		return refused(FaultNoForm, remedy, "no card found: no known form recognised by its print")
	}
	switch len(marks) {
	case 0:
		return refused(FaultNoMarks, remedy, "no card found: no registration marks seen")
	case 1:
		return refused(FaultFewMarks, remedy, "no card found: 1 registration mark seen, %d of one card are needed", minMarks)
	}
	return refused(FaultFewMarks, remedy, "no card found: %d registration marks seen, %d of one card are needed", len(marks), minMarks)
}

// fullPxPerMM returns how large the picture would show the smallest of the forms if it filled the picture.
func fullPxPerMM(v *view, forms *Forms) float64 {
	full := 0.0
	for _, f := range forms.faces {
		w, h := float64(f.side.W), float64(f.side.H)
		full = max(full, math.Sqrt(float64(v.w)*float64(v.h)/(w*h)))
	}
	return full
}

// maxPictureBlur: a card 200 mm high that fills two thirds of the picture, blurred by 0.42 mm, reads as 0.0014. Photos
// that were not found for another reason measure up to 0.0011 (lines are thinner than steps, and read as if blurred
// by what is left of them), blurred ones from 0.0015 on (scantest's impossible seeds 90,000 to 90,029).
const maxPictureBlur = 0.0013

// straighten follows the print of a found card and warps it.
func straighten(pyr *pyramid, f Found, opt Options) (*Page, error) {
	photo := &pyr.levels[0]
	q := Quality{Marks: f.Marks, MarksOf: f.MarksOf, PxPerMM: f.PxPerMM}
	if !f.byPrint() {
		q.SigmaMM, q.Contrast = sharpness(pyr.at(9, f.PxPerMM), f.face, f.group.marks, f.PxPerMM)
	}
	if err := q.tooPoor(); err != nil {
		return nil, err
	}
	faces := []*face{f.face}
	if f.Identity == nil {
		faces = f.like
	}
	var best *Page
	var refusal *RefusedError
	var bestFace *face
	var bestPlaces []place
	var fits []fitted
	for _, face := range faces {
		if twin := twinOf(face, fits); twin != nil {
			fits = append(fits, fitted{face, twin.seen})
			continue
		}
		fits = append(fits, fitted{face: face})
		try := f
		if err := try.use(face); err != nil {
			return nil, err
		}
		paper, places, err := try.follow(pyr)
		if err != nil {
			refusal = refused(FaultPrint, "lay the card flat with nothing on it and take it again", "the print between the marks can't be followed")
			continue
		}
		k := q
		k.Marks = len(try.group.marks)
		k.ResidualMM, k.Residual95, k.PrintSeen = witnessed(places, &paper, photo.w, photo.h)
		if paper, err = fitAll(face, places, paper); err != nil {
			return nil, refused(FaultPrint, "lay the card flat with nothing on it and take it again", "the print between the marks can't be followed")
		}
		k.Outside = fieldsOutside(face.side, &paper, photo.w, photo.h)
		k.judgeFields(face.side, places, &paper, pyr.at(levelForPrint, try.PxPerMM))
		// Features can mislead where marks can't: what is not on the form is not outside the picture either.
		if err := rowsOutside(face.side, k.Outside); err != nil && (!f.byPrint() || k.untrue(false) == nil) {
			refusal = err
			continue
		}
		if k.untrue(false) != nil {
			refusal = k.untrue(folded(face.side, &paper, places))
			continue
		}
		if f.byPrint() {
			if err := face.believe(pyr, &paper, places, &k); err != nil {
				refusal = err
				continue
			}
		}
		fits[len(fits)-1].seen = k.PrintSeen
		if best == nil || k.PrintSeen > best.Quality.PrintSeen {
			best = &Page{PxPerMM: opt.pxPerMM(), Layout: face.layout, Side: face.side, Identity: f.Identity, Quality: k, paper: paper}
			bestFace, bestPlaces = face, places
		}
	}
	if best == nil {
		return nil, refusal
	}
	if f.Identity == nil {
		id, err := readIdentity(pyr.at(levelForPrint, f.PxPerMM), &best.paper, best.Side.Identity)
		if err != nil {
			return nil, err
		}
		if id != nil {
			if err := f.name(id); err != nil {
				return nil, err
			}
			if f.face != bestFace {
				return straighten(pyr, f, opt)
			}
			best.Identity = id
		} else {
			best.MayBe = alikeLayouts(fits, best.Quality.PrintSeen)
		}
	}
	best.Quality.PxPerMM = meanPxPerMM(&best.paper, best.Side)
	var err error
	best.Mat, err = warp(photo.mat, &best.paper, best.Side, best.PxPerMM, best.Quality.PxPerMM)
	if err != nil {
		return nil, err
	}
	if best.Quality.Blown, err = blown(best.Mat); err != nil {
		_ = best.Close()
		return nil, err
	}
	over, err := bestFace.overlaid(best.Mat, bestPlaces)
	if err != nil {
		_ = best.Close()
		return nil, err
	}
	best.Quality.hide(best.Side, FlawCovered, over)
	if len(bestFace.marks) > 0 {
		return best, nil
	}
	misfits, other, err := bestFace.otherSheet(best.Mat, best.Quality.Outside)
	switch {
	case err != nil:
		_ = best.Close()
		return nil, err
	case other != nil:
		_ = best.Close()
		return nil, other
	}
	best.Quality.hide(best.Side, FlawNumber, misfits)
	return best, nil
}

// blown returns the share of px at the end of the scale.
func blown(page gocv.Mat) (float64, error) {
	pix, err := page.DataPtrUint8()
	if err != nil {
		return 0, err
	}
	n := 0
	for _, g := range pix {
		if g >= 254 {
			n++
		}
	}
	return float64(n) / float64(len(pix)), nil
}
