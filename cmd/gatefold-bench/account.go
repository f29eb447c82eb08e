package main

import (
	"math"
	"slices"
	"sort"

	"gatefold/ocr/calib"
	"gatefold/sheetmodel"
)

// sample is one field that was read.
type sample struct {
	Certainty float64 `json:"c"`
	Clear     bool    `json:"clear,omitempty"`
	Right     bool    `json:"right,omitempty"`
	Writer    int     `json:"w"`
	Digits    int     `json:"n,omitempty"` // of its text
	Glyphs    []int   `json:"g,omitempty"` // MNIST indices its ink was drawn from
	// Why lists the kinds of doubt of one that is asked, each once.
	Why []sheetmodel.DoubtKind `json:"y,omitempty"`
}

// whyOf lists the kinds of doubts.
func whyOf(doubts []sheetmodel.Doubt) []sheetmodel.DoubtKind {
	var out []sheetmodel.DoubtKind
	for _, d := range doubts {
		if !slices.Contains(out, d.Kind) {
			out = append(out, d.Kind)
		}
	}
	return out
}

// reason counts what is asked for one kind of doubt.
type reason struct {
	Asked int `json:"asked"`
	Alone int `json:"alone"` // of these, for nothing else
}

// reasons counts why samples are asked.
func reasons(samples []sample) map[sheetmodel.DoubtKind]reason {
	out := map[sheetmodel.DoubtKind]reason{}
	for _, s := range samples {
		for _, k := range s.Why {
			r := out[k]
			r.Asked++
			if len(s.Why) == 1 {
				r.Alone++
			}
			out[k] = r
		}
	}
	return out
}

// confidence of every bound in the scoreboard.
const missed = 0.05

// account sums samples up: counts, bounds and the whole risk-coverage curve.
func account(samples []sample) *clearGroup {
	if len(samples) == 0 {
		return nil
	}
	g := &clearGroup{Total: len(samples)}
	bad, seen := map[int]bool{}, map[int]bool{}
	for _, s := range samples {
		seen[s.Writer] = true
		if !s.Clear {
			continue
		}
		g.Clear++
		if !s.Right {
			g.ClearWrong++
			bad[s.Writer] = true
		}
	}
	g.Upper95 = calib.Upper(g.ClearWrong, g.Clear, missed)
	g.AskedShare = 1 - float64(g.Clear)/float64(g.Total)
	g.Writers, g.WritersBad = len(seen), len(bad)
	g.WriterUpper = calib.Upper(len(bad), len(seen), missed)
	g.Reasons = reasons(samples)
	g.glyphFree(samples)
	g.curve(samples)
	return g
}

// glyphFree counts over fields that share no glyph: the first use of each glyph counts, later ones
// don't. Which come first is a matter of seeds, not of how they were read.
func (g *clearGroup) glyphFree(samples []sample) {
	used := map[int]bool{}
	for _, s := range samples {
		fresh := len(s.Glyphs) > 0
		for _, i := range s.Glyphs {
			fresh = fresh && !used[i]
		}
		if !fresh {
			continue
		}
		for _, i := range s.Glyphs {
			used[i] = true
		}
		if s.Clear {
			g.GlyphFree++
			if !s.Right {
				g.GlyphWrong++
			}
		}
	}
	g.GlyphUpper = calib.Upper(g.GlyphWrong, g.GlyphFree, missed)
}

// curve asks a person about the least certain share and counts what would still be wrong.
func (g *clearGroup) curve(samples []sample) {
	s := append([]sample(nil), samples...)
	sort.SliceStable(s, func(i, j int) bool { return s[i].Certainty < s[j].Certainty })
	wrongFrom := make([]int, len(s)+1)
	for i := len(s) - 1; i >= 0; i-- {
		wrongFrom[i] = wrongFrom[i+1]
		if !s[i].Right {
			wrongFrom[i]++
		}
	}
	n := float64(len(s))
	at := func(share float64) float64 { return float64(wrongFrom[int(math.Ceil(share*n))]) / n }
	for _, share := range []float64{0, 0.0025, 0.005, 0.01, 0.015, 0.02, 0.03, 0.04, 0.06, 0.08, 0.1, 0.15, 0.2, 0.3, 0.5} {
		g.Curve = append(g.Curve, [2]float64{share, at(share)})
	}
	three, ten := at(0.03), at(0.1)
	g.WrongAt3pct, g.WrongAt10 = &three, &ten
}

// byDigits counts bibs apart by their number of digits.
func byDigits(levels map[string][]sample) map[int]*lengthCount {
	all := map[int]*lengthCount{}
	for _, samples := range levels {
		for _, s := range samples {
			if s.Digits == 0 {
				continue // of a shard that did not say
			}
			c := all[s.Digits]
			if c == nil {
				c = &lengthCount{}
				all[s.Digits] = c
			}
			c.Total++
			if s.Clear {
				c.Clear++
				if !s.Right {
					c.ClearWrong++
				}
			}
		}
	}
	for _, c := range all {
		c.Upper95 = calib.Upper(c.ClearWrong, c.Clear, missed)
	}
	return all
}
