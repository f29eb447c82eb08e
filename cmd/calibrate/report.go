package main

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"

	"gatefold/ocr/calib"
	"gatefold/ocr/weights"
	"gatefold/scan/camera/fill"
)

// report says how the curves and thresholds do on samples that the curves have not seen.
func report(samples, curves, out string) error {
	all, err := load(samples)
	if err != nil {
		return err
	}
	b, err := os.ReadFile(curves)
	if err != nil {
		return err
	}
	set, err := calib.Parse(b, weights.Combs())
	if err != nil {
		return err
	}
	if !set.Calibrated() {
		return fmt.Errorf("%s was made with other weights; fit it again", curves)
	}
	var w strings.Builder
	file := set.File()
	fmt.Fprintf(&w, `# Certainty: what it claims and what is seen

Made by cmd/calibrate; weights %.12s, curves %.12s, camera levels %.12s, layout %s. %s

Curves were fitted on 70 calibration writers, thresholds chosen on 69 threshold writers. The tables below
are of the threshold writers: the curves have not seen them, the thresholds were chosen on them. Report
writers were not used; their figures stand in testdata/bench.

Only what is wrong with a score is judged by a curve. Struck out, overwritten, outside its box and the
like are doubtful whatever the score; spoiled writings (one bib in eight here, far more than on real
cards) are counted apart and weigh a quarter in curves and thresholds.

`, weights.Combs(), set.Hash(), file.Levels, file.Layout, file.Data)
	thresholds(&w, file)
	for _, kind := range []calib.Kind{calib.Bib1, calib.Bib2, calib.Gate, calib.Count, calib.Tick, calib.Ring} {
		fmt.Fprintf(&w, "## %s\n\n", kind)
		outcome(&w, all, set, kind)
		reliability(&w, all, set, kind)
		if kind == calib.Bib1 || kind == calib.Bib2 || kind == calib.Gate {
			riskCoverage(&w, all, kind)
		}
	}
	spoiled(&w, all, set)
	wrongAndClear(&w, all, set)
	return os.WriteFile(out, []byte(w.String()), 0o644)
}

func thresholds(w *strings.Builder, file calib.File) {
	fmt.Fprintf(w, "## Thresholds\n\nEach is the lowest of %d tried whose bound (Clopper-Pearson at 0.05/%d) is within its target; where none is, the strictest, and *met* says no.\n\n", calib.Tried, calib.Tried)
	w.WriteString("| kind | curve: readings, wrong, writers | chosen on | clear | wrong | bound | target | met | asked for it |\n|---|---|---|---|---|---|---|---|---|\n")
	for _, k := range calib.Kinds {
		j := file.Kinds[k]
		t := j.Threshold
		fmt.Fprintf(w, "| %s | %d, %d, %d | %d | %d | %d | %.2g | %.0e | %v | %.1f %% |\n", k, j.Curve.N, j.Curve.Wrong, j.Curve.Writers,
			t.N, t.Clear, t.Wrong, t.Upper95, t.Target, t.Met, 100*t.Asked)
	}
	w.WriteByte('\n')
}

// standsClear reports whether a sample would stand as clear.
func standsClear(s sample, set *calib.Set) bool {
	_, ok := set.Judge(s.Kind, s.Score)
	return ok && !s.Empty && s.Text != "" && len(s.Doubts) == 0
}

// outcome counts what happens to well written fields and to blank ones. Pairs are counted apart by how
// the paper ties them: one spoiled row on a strip takes its neighbours' ties with it.
func outcome(w *strings.Builder, all []sample, set *calib.Set, kind calib.Kind) {
	w.WriteString("| level | written | clear | wrong and clear | bound 95 % | asked | lost | blank | taken for written | of these clear |\n|---|---|---|---|---|---|---|---|---|---|\n")
	ways := []string{""}
	if kind == calib.Bib2 {
		ways = []string{"second-box", "strip"}
	}
	for _, way := range ways {
		for _, level := range []string{"ordinary", "hard"} {
			var c counts
			for _, s := range all {
				if s.Kind == kind && s.Level == level && s.Spoil == fill.Clean && (way == "" || s.Field == way) {
					c.add(s, standsClear(s, set))
				}
			}
			if c.written > 0 {
				fmt.Fprintf(w, "| %s | %d | %d | %d | %.2g | %.2f %% | %d | %d | %d | %d |\n", strings.TrimSpace(level+" "+way), c.written, c.stands, c.wrong,
					calib.Upper(c.wrong, c.stands, 0.05), 100*float64(c.written-c.stands-c.lost)/float64(c.written), c.lost, c.blank, c.invented, c.inventedClear)
			}
		}
	}
	w.WriteByte('\n')
}

// counts is what became of some fields.
type counts struct{ written, stands, wrong, lost, blank, invented, inventedClear int }

func (c *counts) add(s sample, stands bool) {
	if s.Truth == "" {
		c.blank++
		if !s.Empty {
			c.invented++
		}
		if stands {
			c.inventedClear++
		}
		return
	}
	c.written++
	if s.Empty {
		c.lost++
	}
	if stands {
		c.stands++
		if !s.right() {
			c.wrong++
		}
	}
}

// reliability compares claimed and observed shares of wrong texts, a decade of claims a line.
func reliability(w *strings.Builder, all []sample, set *calib.Set, kind calib.Kind) {
	w.WriteString("| claimed wrong | level | readings | claimed | observed | 95 % interval |\n|---|---|---|---|---|---|\n")
	for _, decade := range [][2]float64{{0.1, 1.01}, {0.01, 0.1}, {0.001, 0.01}, {0, 0.001}} {
		for _, level := range []string{"ordinary", "hard"} {
			n, wrong, claimed := 0, 0, 0.0
			for _, s := range all {
				if s.Kind != kind || s.Level != level || s.Empty || s.Text == "" || len(s.Doubts) > 0 || !kept(s) {
					continue
				}
				c, _ := set.Judge(kind, s.Score)
				if p := 1 - c.Value(); p >= decade[0] && p < decade[1] {
					n++
					claimed += p
					if !s.right() {
						wrong++
					}
				}
			}
			if n == 0 {
				continue
			}
			fmt.Fprintf(w, "| %g to %g | %s | %d | %.4f | %.4f | %.4f to %.4f |\n", decade[0], math.Min(decade[1], 1), level, n,
				claimed/float64(n), float64(wrong)/float64(n), lower(wrong, n, 0.025), calib.Upper(wrong, n, 0.025))
		}
	}
	w.WriteByte('\n')
}

// lower is the one-sided lower bound.
func lower(k, n int, delta float64) float64 { return 1 - calib.Upper(n-k, n, delta) }

// riskCoverage lists the share of wrong and clear texts when the least certain share is asked.
func riskCoverage(w *strings.Builder, all []sample, kind calib.Kind) {
	w.WriteString("Risk and coverage of well written ones: wrong among the clear ones, in 10,000, when this share of all is asked.\n\n| level | 0.5 % | 1 % | 2 % | 3 % | 5 % | 10 % | 20 % |\n|---|---|---|---|---|---|---|---|\n")
	for _, level := range []string{"ordinary", "hard"} {
		var s []sample
		for _, x := range all {
			if x.Kind == kind && x.Level == level && x.Spoil == fill.Clean && x.Truth != "" {
				if x.Empty || x.Text == "" || len(x.Doubts) > 0 {
					x.Score = math.Inf(-1)
				}
				s = append(s, x)
			}
		}
		if len(s) == 0 {
			continue
		}
		slices.SortStableFunc(s, func(a, b sample) int {
			switch {
			case a.Score < b.Score:
				return -1
			case a.Score > b.Score:
				return 1
			}
			return 0
		})
		fmt.Fprintf(w, "| %s (%d) |", level, len(s))
		for _, share := range []float64{0.005, 0.01, 0.02, 0.03, 0.05, 0.1, 0.2} {
			from := int(share * float64(len(s)))
			if math.IsInf(s[from].Score, -1) {
				w.WriteString(" doubts alone ask more |")
				continue
			}
			wrong := 0
			for _, x := range s[from:] {
				if !x.right() {
					wrong++
				}
			}
			fmt.Fprintf(w, " %.1f (%d) |", 1e4*float64(wrong)/float64(len(s)-from), wrong)
		}
		w.WriteByte('\n')
	}
	w.WriteByte('\n')
}

// spoiled counts what became of writings that something went wrong with.
func spoiled(w *strings.Builder, all []sample, set *calib.Set) {
	w.WriteString("## Trouble\n\nBibs that something went wrong with while they were written. A dash counts as clear and wrong whatever was read.\n\n| what | level | bibs | clear | clear and wrong |\n|---|---|---|---|---|\n")
	for _, spoil := range append(slices.Clone(spoils), fill.CrossedMark) {
		for _, level := range []string{"ordinary", "hard"} {
			n, stands, wrong := 0, 0, 0
			for _, s := range all {
				if s.Kind != calib.Bib1 || s.Spoil != spoil || s.Level != level {
					continue
				}
				n++
				if standsClear(s, set) {
					stands++
					if !s.right() {
						wrong++
					}
				}
			}
			if n > 0 {
				fmt.Fprintf(w, "| %s | %s | %d | %d | %d |\n", spoil, level, n, stands, wrong)
			}
		}
	}
	w.WriteByte('\n')
}

func wrongAndClear(w *strings.Builder, all []sample, set *calib.Set) {
	w.WriteString("## Every clear text that is wrong\n\n| kind | level | field | meant | read | score | what went wrong |\n|---|---|---|---|---|---|---|\n")
	for _, s := range all {
		if standsClear(s, set) && !s.right() {
			fmt.Fprintf(w, "| %s | %s | %s | %s | %s | %.2f | %s |\n", s.Kind, s.Level, s.Field, s.Truth, s.Text, s.Score, s.Spoil)
		}
	}
}
