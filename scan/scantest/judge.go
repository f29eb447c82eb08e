package scantest

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"gatefold/scan"
	"gatefold/scan/camera"
	"gatefold/sheetmodel"
)

// Verdict says how scan did on one photo.
type Verdict string

// The verdicts.
const (
	Right   Verdict = "found"   // straightened, and rightly
	Wrong   Verdict = "wrong"   // straightened, but side, card, turn or place is another
	Refused Verdict = "refused" // not straightened, with a reason
)

// A page is straightened wrongly if half its field corners miss by more than wrongMedian, or any by
// more than wrongWorst, half a box of a comb: ink would be read in another box.
const (
	wrongMedian = 1.0 // mm
	wrongWorst  = 3.0 // mm
	deepShare   = 0.2 // of a field, from which what lies over it may well hide ink
	otherCard   = 60  // mm between the middles of two cards; no straightening misses by as much
)

// Outcome is what came out of one sample.
type Outcome struct {
	Verdict Verdict
	Why     string // of a wrong one, or the refusal
	Fault   scan.Fault
	Errors  []float64 // mm, every corner of every field that is in the picture, uncovered and not flagged
	Fits    []Fit     // of every field that Errors tells of
	Quality scan.Quality
	Fields  int      // in the picture and uncovered
	Flagged int      // of these, fields that the page says are hidden: they count in no error
	Caught  int      // fields covered or cut, and said to be hidden
	Missed  int      // fields covered or cut, and not said to be
	Deep    int      // of both, fields of which more than deepShare lies under something
	Buried  int      // of these, fields that are not said to be
	Strayed int      // fields flagged, and off by more than wrongWorst: no error, but worth knowing
	Extra   int      // further pages in the photo
	NoIdent bool     // straightened without its identity
	Blind   *Outcome // the same page judged as JudgeMap does: as if it flagged nothing and was told which card it is
	Took    time.Duration
	Due     bool // of a refusal: the truth gives the same reason, see Truth
}

// Fit is by how much one field is misplaced, and what its page says of that.
type Fit struct {
	TrueMM float64 // the worst of its corners
	SaidMM float64 // scan.Quality.ErrorMM
	signs  []float64
}

// Judge reads a sample and compares it with its truth. clock measures the time from file to page.
func Judge(s *Sample, forms *scan.Forms, clock func() time.Time) Outcome {
	start := clock()
	photo, _, err := scan.Decode(fmt.Sprintf("%s-%d.jpg", s.Level, s.Seed), s.JPEG)
	if err != nil {
		return Outcome{Verdict: Refused, Why: err.Error(), Fault: "file"}
	}
	defer photo.Close()
	pages, err := scan.Pages(photo, forms, scan.Options{})
	out := Outcome{Took: clock().Sub(start), Extra: len(pages) - 1}
	for _, p := range pages {
		defer p.Close()
	}
	if len(pages) == 0 {
		s.refused(err, &out)
		return out
	}
	page := pages[0]
	for _, p := range pages[1:] {
		if s.miss(p, center(p.Side)) < s.miss(page, center(page.Side)) {
			page = p
		}
	}
	// The second card in the picture is a card like any other; straightening it is no answer for the first.
	if second := s.View.Shot().Second; second != nil && err != nil && s.miss(page, center(page.Side)) > otherCard {
		out.Extra++
		s.refused(err, &out)
		return out
	}
	out.Quality, out.NoIdent = page.Quality, page.Identity == nil
	out.Verdict, out.Why = s.compare(page, &out)
	blind := JudgeMap(s, page.PhotoFromSheet)
	out.Blind = &blind
	return out
}

// refused notes a refusal, and whether its reason is true.
func (s *Sample) refused(err error, out *Outcome) {
	out.Verdict, out.Why = Refused, fmt.Sprint(err)
	var refusal *scan.RefusedError
	if errors.As(err, &refusal) {
		out.Fault = refusal.Fault
		out.Due = s.Truth().Gives(out.Fault)
	}
}

func center(side *sheetmodel.Side) sheetmodel.SheetPoint {
	return sheetmodel.SheetPoint{X: side.W / 2, Y: side.H / 2}
}

// miss returns by how many mm on the paper the page misplaces p.
func (s *Sample) miss(page *scan.Page, p sheetmodel.SheetPoint) float64 {
	return s.missOf(page.PhotoFromSheet, p)
}

func (s *Sample) missOf(photoFromSheet func(sheetmodel.SheetPoint) sheetmodel.PhotoPoint, p sheetmodel.SheetPoint) float64 {
	really, ok := s.View.SheetFromPhoto(photoFromSheet(p))
	if !ok {
		return math.Inf(1)
	}
	return math.Hypot(float64(really.X-p.X), float64(really.Y-p.Y))
}

// missesOf returns by how many mm on paper the corners of the field f of the sample lie elsewhere than a page of the given side has
// them, its field g.
func (s *Sample) missesOf(photoFromSheet func(sheetmodel.SheetPoint) sheetmodel.PhotoPoint, f, g *sheetmodel.Field) [4]float64 {
	var out [4]float64
	for i, c := range cornersOf(f.Rect) {
		out[i] = math.Inf(1)
		if really, ok := s.View.SheetFromPhoto(photoFromSheet(cornersOf(g.Rect)[i])); ok {
			out[i] = math.Hypot(float64(really.X-c.X), float64(really.Y-c.Y))
		}
	}
	return out
}

func cornersOf(r sheetmodel.Rect) [4]sheetmodel.SheetPoint {
	return [4]sheetmodel.SheetPoint{{X: r.X, Y: r.Y}, {X: r.X + r.W, Y: r.Y}, {X: r.X, Y: r.Y + r.H}, {X: r.X + r.W, Y: r.Y + r.H}}
}

func (s *Sample) compare(page *scan.Page, out *Outcome) (Verdict, string) {
	if page.Side.Name != s.Side.Name {
		return Wrong, fmt.Sprintf("side %s, want %s", page.Side.Name, s.Side.Name)
	}
	if page.Identity != nil && *page.Identity != s.Identity {
		return Wrong, fmt.Sprintf("identity %v, want %v", *page.Identity, s.Identity)
	}
	// A page that doesn't know its layout and says so asks; one of those it names must be the card's.
	named := page.Identity == nil && slices.ContainsFunc(page.MayBe, func(l *sheetmodel.Layout) bool { return l.Hash() == s.Layout.Hash() })
	if !named && page.Layout.Hash() != s.Layout.Hash() {
		return Wrong, fmt.Sprintf("layout %s, want %s", page.Layout.HashStart(), s.Layout.HashStart())
	}
	return s.compareFields(page.Side, page.PhotoFromSheet, page.Quality, out)
}

// JudgeMap compares a map that another method made of the photo with the truth, as Judge does with a page's.
// Side, layout and which card it is are taken as told to that method. A map of the second card in the picture
// is no answer for the first, and counts as none.
func JudgeMap(s *Sample, photoFromSheet func(sheetmodel.SheetPoint) sheetmodel.PhotoPoint) Outcome {
	if s.View.Shot().Second != nil && s.missOf(photoFromSheet, center(s.Side)) > otherCard {
		return Outcome{Verdict: Refused, Why: "another card", Extra: 1}
	}
	var out Outcome
	out.Verdict, out.Why = s.compareFields(s.Side, photoFromSheet, scan.Quality{}, &out)
	return out
}

// compareFields compares where the page has each field with where the sample's field of that name is. side is the page's:
// one of several that the page says it may be has its fields at other places of the sheet.
func (s *Sample) compareFields(side *sheetmodel.Side, photoFromSheet func(sheetmodel.SheetPoint) sheetmodel.PhotoPoint, q scan.Quality, out *Outcome) (Verdict, string) {
	worst, off := 0.0, 0
	for _, f := range s.Side.Fields {
		flagged := slices.Contains(q.Hidden, f.Name)
		if !s.View.RowInView(f.Rect) {
			if flagged {
				out.Caught++
			} else {
				out.Missed++
			}
			if s.coveredShare(f.Rect) > deepShare {
				if out.Deep++; !flagged {
					out.Buried++
				}
			}
			continue
		}
		g := side.Field(f.Name)
		if g == nil {
			continue // of a layout that the page says it may be, and does not show: nothing is read there
		}
		misses := s.missesOf(photoFromSheet, &f, g)
		if out.Fields++; flagged {
			out.Flagged++
			if slices.Max(misses[:]) > wrongWorst {
				out.Strayed++
			}
			continue
		}
		fit := Fit{SaidMM: q.ErrorMM[f.Name], signs: q.ErrorSigns[f.Name]}
		for _, e := range misses {
			out.Errors = append(out.Errors, e)
			worst, fit.TrueMM = max(worst, e), max(fit.TrueMM, e)
			if e > wrongMedian {
				off++
			}
		}
		out.Fits = append(out.Fits, fit)
	}
	if 2*off > len(out.Errors) || worst > wrongWorst {
		return Wrong, fmt.Sprintf("fields off by up to %.1f mm, %d of %d by more than %.0f mm", worst, off, len(out.Errors), wrongMedian)
	}
	return Right, ""
}

// coveredShare returns the share of r that something lies over, or that was cut off.
func (s *Sample) coveredShare(r sheetmodel.Rect) float64 {
	points := spread(r)
	n := 0
	for _, p := range points {
		if at := s.View.Sight(p); at == camera.CoveredUp || at == camera.CutAway {
			n++
		}
	}
	return float64(n) / float64(len(points))
}
