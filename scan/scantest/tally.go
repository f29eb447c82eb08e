package scantest

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"gatefold/scan"
)

// Tally adds up outcomes of one level.
type Tally struct {
	Total, Found, Wrong, Refused int
	Due                          int // of Refused, see Outcome
	NoIdent, Extra               int
	Fields, Flagged              int // see Outcome
	Caught, Missed               int
	Deep, Buried, Strayed        int
	Errors                       []float64 // mm, of found pages only
	Fits                         []Fit     // likewise
	Faults                       map[scan.Fault]int
	Took                         []time.Duration
}

// Add takes in one outcome.
func (t *Tally) Add(o Outcome) {
	t.Total++
	switch o.Verdict {
	case Right:
		t.Found++
		t.Errors, t.Fits = append(t.Errors, o.Errors...), append(t.Fits, o.Fits...)
	case Wrong:
		t.Wrong++
	case Refused:
		t.Refused++
		if o.Due {
			t.Due++
		}
		if t.Faults == nil {
			t.Faults = map[scan.Fault]int{}
		}
		t.Faults[o.Fault]++
	}
	if o.NoIdent {
		t.NoIdent++
	}
	t.Fields, t.Flagged = t.Fields+o.Fields, t.Flagged+o.Flagged
	t.Caught, t.Missed = t.Caught+o.Caught, t.Missed+o.Missed
	t.Deep, t.Buried, t.Strayed = t.Deep+o.Deep, t.Buried+o.Buried, t.Strayed+o.Strayed
	t.Extra += max(o.Extra, 0)
	t.Took = append(t.Took, o.Took)
}

// Merge adds another tally of the same level.
func (t *Tally) Merge(o *Tally) {
	t.Total, t.Found, t.Wrong, t.Refused = t.Total+o.Total, t.Found+o.Found, t.Wrong+o.Wrong, t.Refused+o.Refused
	t.Due += o.Due
	t.NoIdent, t.Extra = t.NoIdent+o.NoIdent, t.Extra+o.Extra
	t.Fields, t.Flagged = t.Fields+o.Fields, t.Flagged+o.Flagged
	t.Caught, t.Missed = t.Caught+o.Caught, t.Missed+o.Missed
	t.Deep, t.Buried, t.Strayed = t.Deep+o.Deep, t.Buried+o.Buried, t.Strayed+o.Strayed
	t.Errors, t.Took = append(t.Errors, o.Errors...), append(t.Took, o.Took...)
	t.Fits = append(t.Fits, o.Fits...)
	for f, n := range o.Faults {
		if t.Faults == nil {
			t.Faults = map[scan.Fault]int{}
		}
		t.Faults[f] += n
	}
}

// ErrorMM returns the share-quantile of the field errors, 0 without any.
func (t *Tally) ErrorMM(share float64) float64 {
	if len(t.Errors) == 0 {
		return 0
	}
	sorted := append([]float64(nil), t.Errors...)
	sort.Float64s(sorted)
	return sorted[min(int(share*float64(len(sorted))), len(sorted)-1)]
}

// Covered returns the share of fields that lie no farther off than their page says, and the median of what it
// says over what is true.
func (t *Tally) Covered() (share, ratio float64) {
	if len(t.Fits) == 0 {
		return 0, 0
	}
	n := 0
	ratios := make([]float64, len(t.Fits))
	for i, f := range t.Fits {
		if f.TrueMM <= f.SaidMM {
			n++
		}
		ratios[i] = f.SaidMM / max(f.TrueMM, 1e-3)
	}
	sort.Float64s(ratios)
	return float64(n) / float64(len(t.Fits)), ratios[len(ratios)/2]
}

// estimate is two cells of a table, of Covered.
func (t *Tally) estimate() string {
	if len(t.Fits) == 0 {
		return "- | -"
	}
	share, ratio := t.Covered()
	return fmt.Sprintf("%.1f %% | %.2f", 100*share, ratio)
}

// String is one line for logs.
func (t *Tally) String() string {
	var faults []string
	for f, n := range t.Faults {
		faults = append(faults, fmt.Sprintf("%s %d", f, n))
	}
	sort.Strings(faults)
	share, ratio := t.Covered()
	return fmt.Sprintf("total %d found %d wrong %d refused %d (%s; reason true %d), without identity %d, extra %d, fields %d flagged %d (%d off by more than 3 mm) caught %d missed %d, deeply covered %d, of these not flagged %d, error mm p50 %.3f p99 %.3f max %.3f, estimate covers %.3f, %.2f of the truth",
		t.Total, t.Found, t.Wrong, t.Refused, strings.Join(faults, ", "), t.Due, t.NoIdent, t.Extra, t.Fields, t.Flagged, t.Strayed, t.Caught, t.Missed, t.Deep, t.Buried, t.ErrorMM(.5), t.ErrorMM(.99), t.ErrorMM(1), share, ratio)
}
