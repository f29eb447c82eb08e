package scantest

import (
	"math"

	"gatefold/scan"
	"gatefold/scan/camera"
	"gatefold/sheetmodel"
)

// Truth is what a photo's own truth can say about a refusal.
//
// A reason is true if a person who follows its remedy mends what is wrong with the photo: too small means
// smaller than any level that must be read, too blurred more blurred than any, and so on. That a program
// saw no marks is true of any photo it failed on, and counts only where the photo shows none.
type Truth struct {
	View  *camera.View
	W, H  sheetmodel.MM
	Marks []sheetmodel.Rect // empty: a form without marks
	Rows  []sheetmodel.Rect // rows, or a back's panels: what must be in sight
	Other bool              // the form in the picture is none of those sought
}

const (
	leastMarks = 3   // in sight, of one card
	leastSheet = 0.6 // of the sheet in the picture, for it to be a card at all
	leastPrint = 0.8 // of the sheet in sight, for its print to be followed
)

// Gives reports whether the truth gives the reason.
func (t *Truth) Gives(fault scan.Fault) bool {
	shot := t.View.Shot()
	hard := camera.Levels()[camera.Hard]
	none := t.Other || shot.Staging != nil && shot.Staging.Blank
	switch fault {
	case scan.FaultSmall:
		return t.View.PxPerMM() < hard.PxPerMM.Min
	case scan.FaultBlurred:
		return shot.BlurSigmaMM > hard.BlurSigmaMM.Max
	case scan.FaultOutside:
		return t.lost(func(p sheetmodel.SheetPoint) bool { return !shot.InFrame(t.View.PhotoFromSheet(p)) })
	case scan.FaultCovered:
		return t.lost(func(p sheetmodel.SheetPoint) bool {
			at := t.View.Sight(p)
			return at == camera.CoveredUp || at == camera.CutAway
		})
	case scan.FaultNoMarks:
		return none || t.marksInSight() == 0 || t.inPicture() < leastSheet
	case scan.FaultFewMarks:
		return none || t.marksInSight() < leastMarks || t.inPicture() < leastSheet
	case scan.FaultNoForm:
		return none || t.inPicture() < leastSheet
	case scan.FaultPrint:
		return none || t.bent() || t.inSight() < leastPrint
	default: // identities are printed alike in all photos
		return false
	}
}

// lost reports whether any point of any row is.
func (t *Truth) lost(is func(sheetmodel.SheetPoint) bool) bool {
	for _, r := range t.Rows {
		for _, p := range spread(r) {
			if is(p) {
				return true
			}
		}
	}
	return false
}

// spread returns points over r, its edges among them, at most 1.5 mm apart.
func spread(r sheetmodel.Rect) []sheetmodel.SheetPoint {
	const step = 1.5
	nx, ny := max(1, int(math.Ceil(float64(r.W)/step))), max(1, int(math.Ceil(float64(r.H)/step)))
	var out []sheetmodel.SheetPoint
	for j := range ny + 1 {
		for i := range nx + 1 {
			out = append(out, sheetmodel.SheetPoint{X: r.X + r.W*sheetmodel.MM(i)/sheetmodel.MM(nx), Y: r.Y + r.H*sheetmodel.MM(j)/sheetmodel.MM(ny)})
		}
	}
	return out
}

func (t *Truth) marksInSight() int {
	n := 0
	for _, m := range t.Marks {
		if t.View.RowInView(m) {
			n++
		}
	}
	return n
}

// share returns the share of the sheet that is so.
func (t *Truth) share(is func(sheetmodel.SheetPoint) bool) float64 {
	const n = 20
	count := 0
	for j := range n {
		for i := range n {
			if is(sheetmodel.SheetPoint{X: t.W * sheetmodel.MM((float64(i)+0.5)/n), Y: t.H * sheetmodel.MM((float64(j)+0.5)/n)}) {
				count++
			}
		}
	}
	return float64(count) / (n * n)
}

func (t *Truth) inPicture() float64 {
	shot := t.View.Shot()
	return t.share(func(p sheetmodel.SheetPoint) bool { return shot.InFrame(t.View.PhotoFromSheet(p)) })
}

func (t *Truth) inSight() float64 {
	return t.share(func(p sheetmodel.SheetPoint) bool { return t.View.Sight(p) == camera.InSight })
}

// bent reports whether the paper is folded, curled or crumpled beyond what the hard level allows; crumples it
// doesn't know.
func (t *Truth) bent() bool {
	shot := t.View.Shot()
	hard := camera.Levels()[camera.Hard]
	fold := hard.Fault[camera.Fold].Max
	bent := shot.Bend.HeightMM > hard.BendMM.Max || shot.Bend.FoldDeg > fold
	if st := shot.Staging; st != nil {
		bent = bent || st.Relief.CrumpleMM > 0
		for _, c := range st.Relief.Creases {
			bent = bent || math.Abs(c.Deg) > fold
		}
	}
	return bent
}

// Truth returns what the sample's truth says.
func (s *Sample) Truth() *Truth {
	t := &Truth{View: s.View, W: s.Side.W, H: s.Side.H}
	for _, m := range s.Side.Marks {
		t.Marks = append(t.Marks, m.Rect)
	}
	t.Rows = rowsOf(s.Side)
	return t
}
