package scantest

import (
	"flag"
	"fmt"
	"math"
	"os"
	"slices"
	"sort"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"gatefold/scan/camera"
)

var powersOf = flag.Int("powers", 0, "fit the estimate of a field's error anew: so many hard photos from seed 50000 on, a tenth as many ordinary ones from 90000 on")

const (
	powersShare = 0.957 // of fields whose estimate is to cover: a little above 95 of 100, as no fit is true for unseen photos to the last percent
	powersLeast = 0.004 // mm: truths below it can't be told apart
	ordinaryHas = 8     // an ordinary photo's fields count as many: a tenth as many are measured
)

// seenField is one field of one photo: its error and what its page tells of it.
type seenField struct {
	seed   uint64
	faults []camera.FaultKind
	signs  []float64
	log    float64 // of the true error, mm
	weight float64
}

// TestErrorPowers fits the powers of scan's estimate of a field's remaining error, and shows how an estimate
// does on a fault that no photo it was fitted on had. It writes scan/estimate.md; the powers are put into
// scan/remaining.go by hand. Command, from this folder:
//
//	go test . -run 'TestErrorPowers$' -v -timeout 2h -powers 2000 -photos DIR
//
// Source of the fit: Koenker & Bassett, Regression quantiles, Econometrica 46 (1978), by repeated weighted
// least squares.
func TestErrorPowers(t *testing.T) {
	if *powersOf == 0 {
		t.Skip("no -powers given")
	}
	fields := seenFields(t, camera.Hard, 50_000, *powersOf, 1)
	fields = append(fields, seenFields(t, camera.Ordinary, 90_000, *powersOf/10, ordinaryHas)...)
	var w strings.Builder
	fmt.Fprintf(&w, "# What a page says of its own errors\n\n")
	fmt.Fprintf(&w, "%d fields on %d photos of development seeds, the hard level's from 50,000 on and the ordinary's from 90,000 on.\n", len(fields), *powersOf+*powersOf/10)
	fmt.Fprintf(&w, "How the estimate does on seeds that nothing was fitted on: report.md. Command: see `scantest.TestErrorPowers`.\n\n")
	even := func(f *seenField) bool { return f.seed%2 == 0 }
	odd := func(f *seenField) bool { return f.seed%2 == 1 }
	powers := quantile(fields, powersShare)
	half := quantile(keep(fields, even), powersShare)
	fmt.Fprintf(&w, "Powers of this fit: %.3f; those in use stand in remaining.go, of the last fit that was taken over.\nFitted on even seeds, on the fields of odd ones: %s.\n\n", powers, told(keep(fields, odd), half))
	spread := spreadWithin(fields, quantile(fields, .5))
	fmt.Fprintf(&w, "Twice the truth in the median is hardly to be had: on one photo, errors differ from what the signs tell by a factor\n")
	fmt.Fprintf(&w, "whose logarithm has a standard deviation of %.2f. Who knew each photo's own scale and no more, and covered 95 of 100\n", spread)
	fmt.Fprintf(&w, "fields, would say exp(1.645 · %.2f) = %.2f times the truth in the median (log-normal errors).\n\n", spread, math.Exp(1.645*spread))
	fmt.Fprintf(&w, "## A fault that no photo of the fit had\n\n")
	fmt.Fprintf(&w, "For each fault of the hard level: fitted on the even seeds without it, tried on the odd seeds with it, beside a fit\non all even seeds. *Covers*: fields whose error is no larger than the estimate; *over truth*: one over the other, median.\n\n")
	fmt.Fprintf(&w, "| fault | fields | covers, fault left out | over truth | covers, fault in the fit | over truth |\n|---|---|---|---|---|---|\n")
	for _, fault := range faultsOf(fields) {
		has := func(f *seenField) bool { return slices.Contains(f.faults, fault) }
		without := quantile(keep(fields, func(f *seenField) bool { return even(f) && !has(f) }), powersShare)
		tried := keep(fields, func(f *seenField) bool { return odd(f) && has(f) })
		fmt.Fprintf(&w, "| %s | %d | %s | %s |\n", fault, len(tried), cells(tried, without), cells(tried, half))
	}
	t.Log(w.String())
	require.NoError(t, os.WriteFile("../estimate.md", []byte(w.String()), 0o644))
}

func seenFields(t *testing.T, level string, from uint64, n int, weight float64) []*seenField {
	t.Helper()
	forms, kind := ready(t, level)
	kind.Kept = *photos
	var out []*seenField
	for seed := from; seed < from+uint64(n); seed++ {
		s, err := Make(kind, seed)
		require.NoError(t, err)
		var faults []camera.FaultKind
		for _, f := range s.View.Shot().Faults {
			faults = append(faults, f.Kind)
		}
		o := Judge(s, forms, time.Now)
		for _, f := range o.Fits {
			if f.signs != nil {
				out = append(out, &seenField{seed, faults, f.signs, math.Log(max(f.TrueMM, powersLeast)), weight})
			}
		}
	}
	return out
}

func faultsOf(fields []*seenField) []camera.FaultKind {
	var out []camera.FaultKind
	for _, f := range fields {
		for _, k := range f.faults {
			if !slices.Contains(out, k) {
				out = append(out, k)
			}
		}
	}
	slices.Sort(out)
	return out
}

func keep(fields []*seenField, want func(*seenField) bool) []*seenField {
	var out []*seenField
	for _, f := range fields {
		if want(f) {
			out = append(out, f)
		}
	}
	return out
}

// quantile returns the weights of the signs whose sum the given share of logarithms stays below.
func quantile(fields []*seenField, share float64) []float64 {
	const rounds, softest, ridge = 150, 0.02, 1e-3
	n := len(fields[0].signs)
	w := make([]float64, n)
	for range rounds {
		a := make([][]float64, n) // normal equations, the right side last
		for i := range a {
			a[i] = make([]float64, n+1)
			a[i][i] = ridge
		}
		for _, f := range fields {
			rest := f.log - dot(w, f.signs)
			pull := f.weight * (1 - share)
			if rest > 0 {
				pull = f.weight * share
			}
			pull /= max(math.Abs(rest), softest)
			for i, x := range f.signs {
				for j, y := range f.signs {
					a[i][j] += pull * x * y
				}
				a[i][n] += pull * x * f.log
			}
		}
		w = solved(a)
	}
	return w
}

// solved returns the solution of linear equations, the right side in the last column. It uses a up.
func solved(a [][]float64) []float64 {
	n := len(a)
	for c := range n {
		p := c
		for r := c + 1; r < n; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[p][c]) {
				p = r
			}
		}
		a[c], a[p] = a[p], a[c]
		for r := range n {
			if r == c {
				continue
			}
			k := a[r][c] / a[c][c]
			for j := c; j <= n; j++ {
				a[r][j] -= k * a[c][j]
			}
		}
	}
	out := make([]float64, n)
	for i := range n {
		out[i] = a[i][n] / a[i][i]
	}
	return out
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// covers returns the share of fields that an estimate covers and its median over the truth.
func covers(fields []*seenField, powers []float64) (share, ratio float64) {
	var ratios []float64
	n := 0
	for _, f := range fields {
		over := dot(powers, f.signs) - f.log
		if over >= 0 {
			n++
		}
		ratios = append(ratios, math.Exp(over))
	}
	if n == 0 {
		return 0, 0
	}
	sort.Float64s(ratios)
	return float64(n) / float64(len(fields)), ratios[len(ratios)/2]
}

// spreadWithin returns the standard deviation of the logarithm of errors over what powers tell, within a photo.
func spreadWithin(fields []*seenField, powers []float64) float64 {
	bySeed := map[uint64][]float64{}
	for _, f := range fields {
		bySeed[f.seed] = append(bySeed[f.seed], f.log-dot(powers, f.signs))
	}
	var sum float64
	n := 0
	for _, rests := range bySeed {
		mean := 0.0
		for _, r := range rests {
			mean += r / float64(len(rests))
		}
		for _, r := range rests {
			sum += (r - mean) * (r - mean)
		}
		n += len(rests) - 1
	}
	return math.Sqrt(sum / float64(max(n, 1)))
}

func told(fields []*seenField, powers []float64) string {
	share, ratio := covers(fields, powers)
	return fmt.Sprintf("covers %.1f %%, %.2f times the truth in the median", 100*share, ratio)
}

func cells(fields []*seenField, powers []float64) string {
	share, ratio := covers(fields, powers)
	return fmt.Sprintf("%.1f %% | %.2f", 100*share, ratio)
}
