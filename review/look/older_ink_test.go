package look

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// What was said of ink that was mended since counts as seen, or as only agreed to. Whatever three people say, in whatever order,
// that makes no field stand that didn't stand on the same words as they were. Source: our own logic; all series of up to
// three words about five kinds of ink.
func TestCount_WordsOfOlderInk_MakeNothingStand(t *testing.T) {
	type word struct {
		basis    sheetmodel.Basis
		readBack bool
		by, text string
	}
	var words []word
	for _, text := range []string{"46", "40"} {
		for _, by := range []string{"Ada", "Bo", "Cy"} {
			words = append(words, word{sheetmodel.BasisOnPaper, false, by, text}, word{sheetmodel.BasisOnPaper, true, by, text})
		}
		words = append(words, word{sheetmodel.BasisJudgeAsked, true, "Bo", text}, word{sheetmodel.BasisJudgeAsked, false, "Bo", text})
	}
	for _, by := range []string{"Ada", "Bo", "Cy"} {
		words = append(words, word{sheetmodel.BasisNoWriting, false, by, ""})
	}
	words = append(words, word{sheetmodel.BasisSetAside, false, "Bo", ""})
	start := time.Date(2027, 1, 23, 9, 0, 0, 0, time.UTC)
	stands := 0
	var say func(ink Ink, said []sheetmodel.Decision)
	say = func(ink Ink, said []sheetmodel.Decision) {
		as := Count(ink, "reader", said)
		for older := 1; older <= len(said); older++ {
			changed := slices.Clone(said)
			for i := range changed[:older] {
				d := &changed[i]
				d.Blind, d.ReadBack = false, d.ReadBack && d.Basis == sheetmodel.BasisOnPaper
			}
			s := Count(ink, "reader", changed)
			if s.State == sheetmodel.BibTwoLooks {
				stands++
				require.True(t, as.State == s.State && as.Text == s.Text, "%+v: the first %d of %+v are of older ink: %s %q, was %s %q", ink, older, said, s.State, s.Text, as.State, as.Text)
			}
		}
		if len(said) == 3 {
			return
		}
		for _, w := range words {
			again := slices.ContainsFunc(said, func(d sheetmodel.Decision) bool { return d.By == w.by })
			say(ink, append(said[:len(said):len(said)], sheetmodel.Decision{
				Text: w.text, By: w.by, Basis: w.basis, ReadBack: w.readBack, Note: "reason", At: start.Add(time.Duration(len(said)) * time.Minute),
				Blind: !again && (w.basis == sheetmodel.BasisOnPaper || w.basis == sheetmodel.BasisNoWriting),
			}))
		}
	}
	say(Ink{Grammar: sheetmodel.GrammarBib}, nil)
	for _, state := range []sheetmodel.State{sheetmodel.Clear, sheetmodel.Doubtful} {
		for _, alone := range []bool{true, false} {
			ink := Ink{Pictured: true, Alone: alone, Grammar: sheetmodel.GrammarBib, Reading: sheetmodel.Reading{Text: "46", State: state}}
			if !alone {
				ink.Reading.Rivals = []sheetmodel.Rival{{Text: "40", Prob: 0.1}}
			}
			say(ink, nil)
		}
	}
	require.Positive(t, stands)
}
