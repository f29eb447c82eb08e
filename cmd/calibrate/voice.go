package main

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"

	"gatefold/ocr/calib"
)

// voiced is a comb's reading with the cell net's word on it.
type voiced struct {
	sample
	voice float64 // decimal log-odds that the cell net gives the text
}

// pooled is what a pool of two beliefs comes to for their score: the cell net's log-odds with a weight, at most four
// decades of them, where the digit nets' score is below a limit.
func pooled(weight, below float64) func(voiced) float64 {
	return func(v voiced) float64 {
		if v.Score >= below {
			return v.Score
		}
		return v.Score + weight*math.Max(math.Min(v.voice, 4), -4)
	}
}

// voice tables whether the cell net, reading combs whole, would help as a further reader: undoubted readings of
// file, made with read -mute, ordered by the digit nets' score alone and with what the cell net says.
func voice(file string) error {
	all, err := load(file)
	if err != nil {
		return err
	}
	var w strings.Builder
	asks := []float64{0, 0.01, 0.02, 0.03, 0.05, 0.07, 0.1, 0.15}
	fmt.Fprint(&w, "| kind | combs | ordered by |")
	for _, a := range asks {
		fmt.Fprintf(&w, " %.0f %% |", 100*a)
	}
	fmt.Fprintf(&w, "\n|---|---|---|%s\n", strings.Repeat("---|", len(asks)))
	for _, kind := range []calib.Kind{calib.Bib1, calib.Gate} {
		var s []voiced
		differs, differsWrong := 0, 0
		for _, x := range all {
			if x.Kind != kind || x.Empty || x.Text == "" || len(x.Doubts) > 0 || !kept(x) {
				continue
			}
			p := math.Min(math.Max(x.VoiceProb, 1e-12), 1-1e-12)
			s = append(s, voiced{x, math.Log10(p / (1 - p))})
			if x.Voice != x.Text {
				differs++
				differsWrong += btoi(!x.right())
			}
		}
		for _, by := range []struct {
			name string
			key  func(v voiced) float64
		}{
			{"digit nets", func(v voiced) float64 { return v.Score }},
			{"digit nets, what the cell net reads otherwise first", func(v voiced) float64 { return v.Score - 100*float64(btoi(v.Voice != v.Text)) }},
			{"pooled, weight 0.25", pooled(0.25, math.Inf(1))},
			{"pooled, weight 0.5", pooled(0.5, math.Inf(1))},
			{"pooled, weight 1", pooled(1, math.Inf(1))},
			{"pooled, weight 0.5, below 2.0", pooled(0.5, 2)},
			{"pooled, weight 0.5, below 2.3", pooled(0.5, 2.3)},
			{"pooled, weight 0.5, below 2.6", pooled(0.5, 2.6)},
			{"cell net", func(v voiced) float64 { return v.voice }},
		} {
			o := slices.Clone(s)
			slices.SortStableFunc(o, func(a, b voiced) int { return cmpFloat(by.key(a), by.key(b)) })
			fmt.Fprintf(&w, "| %s | %d | %s |", kind, len(o), by.name)
			for _, a := range asks {
				wrong := 0
				for _, x := range o[int(a*float64(len(o))+0.5):] {
					wrong += btoi(!x.right())
				}
				fmt.Fprintf(&w, " %d |", wrong)
			}
			fmt.Fprintln(&w)
		}
		fmt.Fprintf(&w, "| %s | %d | *read otherwise by the cell net* | %d, of these %d wrong |\n", kind, len(s), differs, differsWrong)
	}
	_, err = os.Stdout.WriteString(w.String())
	return err
}
