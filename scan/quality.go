package scan

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"gatefold/sheetmodel"
)

// Quality says what a straightening can be trusted for.
type Quality struct {
	ByPrint    bool     `json:"by_print,omitempty"` // found by the form's print, for want of marks
	Marks      int      `json:"marks"`              // registration marks seen
	MarksOf    int      `json:"marks_of"`           // and printed
	PxPerMM    float64  `json:"px_per_mm"`
	SigmaMM    float64  `json:"sigma_mm"`    // blur on paper, standard deviation
	Contrast   float64  `json:"contrast"`    // grey levels between print and paper
	Blown      float64  `json:"blown"`       // share of the page that is white to the limit: ink there may be lost
	ResidualMM float64  `json:"residual_mm"` // median miss of print that took no part in straightening
	Residual95 float64  `json:"residual_95_mm"`
	PrintSeen  float64  `json:"print_seen"`        // share of the card's print found where it belongs
	Outside    []string `json:"outside,omitempty"` // fields not wholly in the picture
	Hidden     []string `json:"hidden,omitempty"`  // fields whose own print can't be seen (covered, glare, smeared) or whose place is in doubt
	// ErrorMM says for each field, by name, what the distance of its corners from where the page shows them
	// stays below in 95 of 100 fields: 0.05 is usual, 10 stands for not known. Measured in scan/report.md.
	ErrorMM map[string]float64 `json:"error_mm,omitempty"`
	// ErrorSigns are the logarithms of what ErrorMM is told from, in remaining's order: for fitting it anew.
	ErrorSigns map[string][]float64 `json:"-"`
	Flaws      []Flaw               `json:"flaws,omitempty"` // why fields are hidden, outside or in doubt, in words
}

// Limits. Photos that must be refused have σ above 0.6 mm or below 3.5 px/mm, ones that must be read up to
// 0.3 mm and from 4.5 px/mm; each limit lies between, at the geometric mean.
const (
	maxSigma     = 0.42 // mm
	minPxPerMM   = 4.0
	minPrintSeen = 0.8 // share of places with print
	maxResidual  = 0.3 // mm, median of witnesses
	maxResid95   = 0.8 // mm
)

// tooPoor returns the refusal that a card's size, sharpness or print calls for, or nil.
func (q *Quality) tooPoor() *RefusedError {
	switch {
	case q.PxPerMM < minPxPerMM:
		return refused(FaultSmall, "go nearer, until the card fills the picture",
			"the card is too small in the picture: %.1f px per mm, %.1f are needed", q.PxPerMM, minPxPerMM)
	case q.SigmaMM > maxSigma:
		return refused(FaultBlurred, "hold still, let the phone focus on the card and take it again",
			"the print is blurred over %.1f mm", 2*q.SigmaMM)
	}
	return nil
}

// untrue returns the refusal of a map that the print does not confirm, or nil. folded says that the card is seen to be.
func (q *Quality) untrue(folded bool) *RefusedError {
	what, remedy := "the print between the marks can't be followed", "lay the card flat with nothing on it and take it again"
	if folded {
		what, remedy = "the card is folded sharply and its print can't be followed over the fold", "flatten it and take it again"
	}
	switch {
	case q.PrintSeen < minPrintSeen:
		return refused(FaultPrint, remedy, "%s: %.0f %% of it seen", what, 100*q.PrintSeen)
	case q.ResidualMM > maxResidual:
		return refused(FaultPrint, remedy, "%s: it lies %.1f mm off", what, q.ResidualMM)
	case q.Residual95 > maxResid95:
		return refused(FaultPrint, remedy, "%s: in places it lies %.1f mm off", what, q.Residual95)
	}
	return nil
}

// fieldsOutside returns the names of fields that are not wholly in the picture.
func fieldsOutside(side *sheetmodel.Side, paper *sheetMap, w, h int) []string {
	var names []string
	for _, f := range side.Fields {
		for _, c := range corners(f.Rect) {
			p := paper.at(c)
			if p.X < 0 || p.Y < 0 || p.X > float64(w-1) || p.Y > float64(h-1) {
				names = append(names, f.Name)
				break
			}
		}
	}
	return names
}

const (
	hiddenReach   = 2.0 // mm: half a patch less what a finger at its edge would still leave of it
	hiddenScore   = 0.4 // correlation
	underInkSigma = 0.1 // mm
)

// rowsOutside returns the refusal for rows, or a back's panels, that are not wholly in the picture.
func rowsOutside(side *sheetmodel.Side, outside []string) *RefusedError {
	rows, panels := map[int]bool{}, map[string]bool{}
	for _, name := range outside {
		f := side.Field(name)
		if f.Row > 0 {
			rows[f.Row] = true
		} else if f.Panel != "" {
			panels[f.Panel] = true
		}
	}
	const remedy = "step back and take it again with the whole card in the picture"
	if len(rows) > 0 {
		var list []int
		for r := range rows {
			list = append(list, r)
		}
		sort.Ints(list)
		var words []string
		for _, r := range list {
			words = append(words, fmt.Sprint(r))
		}
		return refused(FaultOutside, remedy, "%s outside the picture", areOrIs("row", words))
	}
	if len(panels) > 0 {
		var words []string
		for p := range panels {
			words = append(words, p)
		}
		sort.Strings(words)
		return refused(FaultOutside, remedy, "%s outside the picture", areOrIs("panel", words))
	}
	return nil
}

func areOrIs(noun string, words []string) string {
	if len(words) == 1 {
		return noun + " " + words[0] + " is"
	}
	last := len(words) - 1
	return noun + "s " + strings.Join(words[:last], ", ") + " and " + words[last] + " are"
}

// meanPxPerMM is the square root of the card's area in the photo over its area on paper.
func meanPxPerMM(paper *sheetMap, side *sheetmodel.Side) float64 {
	// Round the edge in steps: bent paper has no straight edges.
	const n = 8
	var edge []sheetmodel.PhotoPoint
	cs := corners(sheetmodel.Rect{W: side.W, H: side.H})
	for i, a := range cs {
		b := cs[(i+1)%4]
		for k := range n {
			t := sheetmodel.MM(float64(k) / n)
			edge = append(edge, paper.at(sheetmodel.SheetPoint{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)}))
		}
	}
	area := 0.0
	for i, p := range edge {
		q := edge[(i+1)%len(edge)]
		area += (p.X*q.Y - q.X*p.Y) / 2
	}
	return math.Sqrt(math.Abs(area) / float64(side.W*side.H))
}

// inPicture returns the share of the side that lies in the picture.
func inPicture(paper *sheetMap, side *sheetmodel.Side, w, h int) float64 {
	const n = 12
	in := 0
	for j := range n {
		for i := range n {
			p := paper.at(sheetmodel.SheetPoint{
				X: side.W * sheetmodel.MM((float64(i)+0.5)/n), Y: side.H * sheetmodel.MM((float64(j)+0.5)/n),
			})
			if p.X >= 0 && p.Y >= 0 && p.X <= float64(w-1) && p.Y <= float64(h-1) {
				in++
			}
		}
	}
	return float64(in) / (n * n)
}
