package joint_test

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/cockroachdb/datadriven"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/calib"
	"gatefold/ocr/joint"
	"gatefold/sheetmodel"
)

// stepJudge is clear from a score of 3 and has no curve: these cases are about ties.
type stepJudge struct{}

func (stepJudge) Judge(_ calib.Kind, score float64) (sheetmodel.Certainty, bool) {
	return sheetmodel.Certainty{}, score >= 3
}

// Each case is a card in words; see testdata/ties. Source of all: the project's own tie rules.
func TestTies(t *testing.T) {
	datadriven.Walk(t, "testdata/ties", func(t *testing.T, path string) {
		datadriven.RunTest(t, path, func(t *testing.T, d *datadriven.TestData) string {
			front, back := parseCard(t, d.Input)
			pairs := joint.Card(front, back, stepJudge{})
			joint.LowerRows(front.Rows, pairs)
			return describe(front, pairs)
		})
	})
}

// parseCard reads lines such as
//
//	row 2: bib 42|12:0.01 again 42 panel B struck
//	row 3: covered             nothing written, its panel letters can't be seen
//	strip B 1: 42 question-mark
//	strip B 2: covered         no ink is seen, and a finger lies on it
//
// A bib is text, then rivals with their claims; "-" is a rival that is none of these. A word of
// DoubtKind after a bib makes it doubtful; "panel B?" is a doubtful panel letter.
func parseCard(t *testing.T, input string) (front, back sheetmodel.SheetReading) {
	for _, line := range strings.Split(strings.TrimSpace(input), "\n") {
		head, rest, ok := strings.Cut(line, ":")
		require.True(t, ok, "line %q needs a colon", line)
		h, words := strings.Fields(head), strings.Fields(rest)
		switch h[0] {
		case "row":
			n, err := strconv.Atoi(h[1])
			require.NoError(t, err)
			front.Rows = append(front.Rows, parseRow(t, n, words))
		case "strip":
			n, err := strconv.Atoi(h[2])
			require.NoError(t, err)
			e := sheetmodel.StripEntry{Panel: h[1], Entry: n, Bib: parseBib(t, words[0])}
			for _, w := range words[1:] {
				e.Bib.Doubt(sheetmodel.DoubtKind(w), w)
			}
			back.Strips = append(back.Strips, e)
		default:
			t.Fatalf("unknown line %q", line)
		}
	}
	return front, back
}

func parseRow(t *testing.T, n int, words []string) sheetmodel.Row {
	empty := sheetmodel.Reading{State: sheetmodel.Empty}
	row := sheetmodel.Row{Number: n, HasInk: true, Bib: empty, BibAgain: empty, Panel: empty}
	last := &row.Bib
	for i := 0; i < len(words); i++ {
		switch words[i] {
		case "bib":
			i++
			row.Bib, last = parseBib(t, words[i]), &row.Bib
		case "again":
			i++
			row.BibAgain, last = parseBib(t, words[i]), &row.BibAgain
		case "panel":
			i++
			name, doubtful := strings.CutSuffix(words[i], "?")
			row.Panel, last = parseBib(t, name), &row.Panel
			if doubtful {
				row.Panel.Doubt(sheetmodel.DoubtTwoMarks, "two letters are ringed")
			}
		case "struck":
			row.Struck = true
		case "covered":
			row.Panel = sheetmodel.Reading{State: sheetmodel.Doubtful}
			row.Panel.Doubt(sheetmodel.DoubtHidden, "covered")
		default:
			last.Doubt(sheetmodel.DoubtKind(words[i]), words[i])
		}
	}
	return row
}

func parseBib(t *testing.T, s string) sheetmodel.Reading {
	if s == "covered" {
		return sheetmodel.Reading{State: sheetmodel.Doubtful, Doubts: []sheetmodel.Doubt{{Kind: sheetmodel.DoubtHidden}}}
	}
	parts := strings.Split(s, "|")
	r := sheetmodel.Reading{Text: parts[0], State: sheetmodel.Clear}
	if r.Text == "-" {
		r.Text = ""
	}
	for _, p := range parts[1:] {
		text, claim, _ := strings.Cut(p, ":")
		v, err := strconv.ParseFloat(claim, 64)
		require.NoError(t, err)
		if text == "-" {
			text = ""
		}
		r.Rivals = append(r.Rivals, sheetmodel.Rival{Text: text, Prob: sheetmodel.Prob(v)})
	}
	if len(r.Rivals) == 0 {
		r.Rivals = []sheetmodel.Rival{{Prob: 1e-4}}
	}
	return r
}

func describe(front sheetmodel.SheetReading, pairs []joint.Pair) string {
	var b strings.Builder
	for _, p := range pairs {
		fmt.Fprintf(&b, "row %d %s", p.Row, p.Kind)
		if p.Panel != "" {
			fmt.Fprintf(&b, " %s entry %d", p.Panel, p.Entry)
		}
		fmt.Fprintf(&b, ": %s %q", p.Both.State, p.Both.Text)
		for _, d := range p.Both.Doubts {
			fmt.Fprintf(&b, "; %s: %s", d.Kind, d.Detail)
		}
		b.WriteByte('\n')
	}
	for _, r := range front.Rows {
		if r.Bib.HasDoubt(sheetmodel.DoubtWritings) {
			fmt.Fprintf(&b, "row %d bib now %s\n", r.Number, r.Bib.State)
		}
	}
	if b.Len() == 0 {
		return "no ties\n"
	}
	return b.String()
}
