package look_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/cockroachdb/datadriven"
	"github.com/stretchr/testify/assert"

	"gatefold/review/look"
	"gatefold/sheetmodel"
)

// TestCount_Cases runs the cases of testdata, which a referee can read:
//
//	ink 46 clear alone                 what the machine sees: text, state, alone, rival=40, doubt=KIND
//	tied strip 46 clear                a second writing: strip or box, text, clear or differs
//	Ada types 46 [not-blind]           a person's entry
//	Ada hears 46 [not-blind]           read back: the judge reads aloud
//	judge says 46 | judge nods at 46   asked: unprompted, or only agreeing with what was shown
//	Ada sets aside REASON
//	Ada sees-nothing [not-blind]       a person sees no writing there
func TestCount_Cases(t *testing.T) {
	datadriven.Walk(t, "testdata", func(t *testing.T, path string) {
		datadriven.RunTest(t, path, func(t *testing.T, d *datadriven.TestData) string {
			ink, decisions := parseCase(t, d)
			return sentence(look.Count(ink, "reader", decisions))
		})
	})
}

func parseCase(t *testing.T, d *datadriven.TestData) (look.Ink, []sheetmodel.Decision) {
	t.Helper()
	ink := look.Ink{Grammar: sheetmodel.GrammarBib}
	var decisions []sheetmodel.Decision
	at := time.Date(2027, 1, 23, 12, 0, 0, 0, time.UTC)
	for line := range strings.Lines(d.Input) {
		w := strings.Fields(line)
		decision := sheetmodel.Decision{By: w[0], Basis: sheetmodel.BasisOnPaper, Blind: w[len(w)-1] != "not-blind", At: at.Add(time.Duration(len(decisions)) * time.Second)}
		switch {
		case w[0] == "ink":
			ink = parseInk(d, w[1:])
			continue
		case w[0] == "tied":
			tie := look.Tied{Row: 3, Second: w[2], Text: w[2], Clear: w[3] == "clear", Differs: w[3] == "differs"}
			if w[1] == "strip" {
				tie.Panel, tie.Entry = "B", 1
			}
			ink.Ties = append(ink.Ties, tie)
			continue
		case w[0] == "judge" && w[1] == "says":
			decision.By, decision.Basis, decision.ReadBack, decision.Text, decision.Blind = "Chief", sheetmodel.BasisJudgeAsked, true, w[2], false
		case w[0] == "judge" && w[1] == "nods":
			decision.By, decision.Basis, decision.Text, decision.Blind = "Chief", sheetmodel.BasisJudgeAsked, w[3], false
		case w[1] == "sees-nothing":
			decision.Basis = sheetmodel.BasisNoWriting
		case w[1] == "types":
			decision.Text = w[2]
		case w[1] == "hears":
			decision.Text, decision.ReadBack = w[2], true
		case w[1] == "sets":
			decision.Basis, decision.Note, decision.Blind = sheetmodel.BasisSetAside, strings.Join(w[3:], " "), false
		default:
			d.Fatalf(t, "unknown line %q", line)
		}
		decisions = append(decisions, decision)
	}
	return ink, decisions
}

func parseInk(d *datadriven.TestData, w []string) look.Ink {
	ink := look.Ink{Pictured: true, Grammar: sheetmodel.GrammarBib}
	ink.Reading.Text = strings.Trim(w[0], `"`)
	ink.Reading.State = sheetmodel.State(w[1])
	for _, one := range w[2:] {
		switch name, value, _ := strings.Cut(one, "="); name {
		case "alone":
			ink.Alone = true
		case "rival":
			ink.Reading.Rivals = append(ink.Reading.Rivals, sheetmodel.Rival{Text: value, Prob: 0.3})
		case "doubt":
			ink.Reading.Doubts = append(ink.Reading.Doubts, sheetmodel.Doubt{Kind: sheetmodel.DoubtKind(value)})
		default:
			panic(d.Pos + ": unknown word " + one)
		}
	}
	return ink
}

func sentence(s look.Seen) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %q", s.State, s.Text)
	for i, l := range s.Looks {
		fmt.Fprintf(&b, "%s%s", map[bool]string{true: ": ", false: ", "}[i == 0], l.Kind)
		if l.By != "reader" {
			fmt.Fprintf(&b, " by %s", l.By)
		}
	}
	b.WriteString("\n")
	if s.Next != look.NeedNothing {
		fmt.Fprintf(&b, "next %s", s.Next)
		if s.Reason != "" {
			fmt.Fprintf(&b, ": %s", s.Reason)
		}
		b.WriteString("\n")
	} else if s.Reason != "" {
		fmt.Fprintf(&b, "because %s\n", s.Reason)
	}
	if len(s.Rivals) > 0 {
		fmt.Fprintf(&b, "or %s\n", strings.Join(s.Rivals, ", "))
	}
	return b.String()
}

// Whatever people and machine say, a proposal needs two looks that agree, from two sources, and none
// of them not blind. Walks all short histories over a small alphabet.
func TestCount_AnyShortHistory_TwoLooksAgreeAndComeFromTwoSources(t *testing.T) {
	var words []sheetmodel.Decision
	for _, text := range []string{"46", "40"} {
		for _, by := range []string{"Ada", "Bo"} {
			for _, blind := range []bool{true, false} {
				words = append(words, sheetmodel.Decision{By: by, Text: text, Basis: sheetmodel.BasisOnPaper, Blind: blind})
			}
		}
		words = append(words,
			sheetmodel.Decision{By: "Cy", Text: text, Basis: sheetmodel.BasisOnPaper, Blind: true, ReadBack: true},
			sheetmodel.Decision{By: "Cy", Text: text, Basis: sheetmodel.BasisOnPaper, ReadBack: true},
			sheetmodel.Decision{By: "Cy", Text: text, Basis: sheetmodel.BasisJudgeAsked, ReadBack: true},
			sheetmodel.Decision{By: "Cy", Text: text, Basis: sheetmodel.BasisJudgeAsked})
	}
	for _, by := range []string{"Ada", "Bo"} {
		for _, blind := range []bool{true, false} {
			words = append(words, sheetmodel.Decision{By: by, Basis: sheetmodel.BasisNoWriting, Blind: blind})
		}
	}
	var inks []look.Ink
	for _, state := range []sheetmodel.State{sheetmodel.Clear, sheetmodel.Doubtful, sheetmodel.Empty} {
		for _, alone := range []bool{true, false} {
			for _, tie := range [][]look.Tied{nil, {{Text: "46", Clear: true}}, {{Panel: "B", Second: "40", Differs: true}}, {{Panel: "B"}}} {
				ink := look.Ink{Pictured: true, Alone: alone, Ties: tie, Grammar: sheetmodel.GrammarBib}
				ink.Reading = sheetmodel.Reading{Text: "46", State: state}
				if state == sheetmodel.Empty {
					ink.Reading.Text = ""
				}
				inks = append(inks, ink)
			}
		}
	}
	specks := sheetmodel.Reading{State: sheetmodel.Doubtful, Doubts: []sheetmodel.Doubt{{Kind: sheetmodel.DoubtFaintInk}, {Kind: sheetmodel.DoubtNotInGrammar}}}
	inks = append(inks, look.Ink{Grammar: sheetmodel.GrammarBib}, look.Ink{Pictured: true, Reading: specks, Grammar: sheetmodel.GrammarBib})
	n := 0
	for _, ink := range inks {
		for a := range words {
			for b := range words {
				for c := range words {
					n++
					check(t, ink, []sheetmodel.Decision{words[a], words[b], words[c]})
				}
			}
		}
	}
	assert.Equal(t, 26*20*20*20, n)
}

func check(t *testing.T, ink look.Ink, decisions []sheetmodel.Decision) {
	t.Helper()
	s := look.Count(ink, "reader", decisions)
	ok := true
	sources := map[string]bool{}
	for _, l := range s.Looks {
		ok = ok && l.Text == s.Text && l.Text != ""
		source := string(l.Kind) + l.By
		if l.Kind == sheetmodel.LookReadBack || l.Kind == sheetmodel.LookJudgeAsked {
			source = "judge"
		}
		sources[source] = true
		switch l.Kind {
		case sheetmodel.LookBlind, sheetmodel.LookPaper:
			// This person typed it blind and never said otherwise.
			blind := false
			for _, d := range decisions {
				if d.By == l.By && d.Basis == sheetmodel.BasisOnPaper && !d.ReadBack {
					ok = ok && d.Text == l.Text
					blind = blind || d.Blind
				}
			}
			ok = ok && blind
		default:
		}
	}
	switch s.State {
	case sheetmodel.BibTwoLooks:
		ok = ok && len(sources) >= 2 && s.Next == look.NeedNothing
	case sheetmodel.BibOneLook:
		ok = ok && len(sources) == 1
		for _, d := range decisions {
			judge := d.ReadBack || d.Basis == sheetmodel.BasisJudgeAsked
			ok = ok && (d.Text == s.Text || judge) // a person who ever said otherwise speaks against it
		}
		last := decisions[len(decisions)-1]
		ok = ok && last.Text == s.Text // so does the judge's last word
	case sheetmodel.BibSetAside:
		// Nobody ever typed a text, each who is named said it blind, and ink that is more than specks has two.
		needs := 2
		if ink.Pictured && (ink.Reading.State == sheetmodel.Empty || len(ink.Reading.Doubts) > 0) {
			needs = 1
		}
		ok = ok && s.Text == "" && len(s.Nothing) >= needs && len(ink.Ties) == 0 && ink.Reading.State != sheetmodel.Clear && len(s.Looks) == 0
		for _, d := range decisions {
			ok = ok && d.Basis == sheetmodel.BasisNoWriting
		}
		for _, by := range s.Nothing {
			ok = ok && slices.ContainsFunc(decisions, func(d sheetmodel.Decision) bool { return d.By == by && d.Blind })
		}
	case sheetmodel.BibWaiting:
		ok = ok && len(s.Looks) == 0 && s.Next != look.NeedNothing
	default:
		ok = false
	}
	if !ok {
		t.Fatalf("ink %+v\ndecisions %+v\nseen %+v", ink, decisions, s)
	}
}
