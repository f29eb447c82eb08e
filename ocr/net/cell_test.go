package net_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/crop"
	"gatefold/ocr/ctc"
	"gatefold/ocr/net"
)

// cellAnswer is one strip with what the trained cell net answered in PyTorch, see ocr/train/cellanswers.py.
type cellAnswer struct {
	says  string
	strip crop.Strip
	line  *ctc.Line
}

func readCellAnswers(t testing.TB) []cellAnswer {
	t.Helper()
	const text, odds = 16, len(net.CellSymbols) * net.CellPlaces
	const record = text + crop.StripW*crop.StripH + 4*odds
	records := recordsOf(t, "cellanswers", record)
	out := make([]cellAnswer, len(records))
	for i, r := range records {
		out[i].says = strings.TrimRight(string(r[:text]), "\x00")
		copy(out[i].strip[:], r[text:])
		v := make([]float32, odds)
		for k := range v {
			v[k] = float32At(r[text+len(out[i].strip)+4*k:])
		}
		line, err := ctc.New(v, len(net.CellSymbols), net.CellPlaces)
		require.NoError(t, err)
		out[i].line = line
	}
	return out
}

func symbols(text string) []int {
	var out []int
	for _, c := range text {
		out = append(out, strings.IndexRune(net.CellSymbols, c))
	}
	return out
}

func TestCell_12Strips_AnswersAsInTraining(t *testing.T) {
	n, err := net.OpenCell()
	require.NoError(t, err)
	defer func() { assert.NoError(t, n.Close()) }()
	answers := readCellAnswers(t)
	require.Len(t, answers, 12)
	right := 0
	for i, want := range answers {
		got, err := n.Look(&want.strip)
		require.NoError(t, err)
		for _, text := range []string{want.says, "", "12", "F3", "18-19"} {
			w, g := want.line.Log(symbols(text)), got.Log(symbols(text))
			assert.InDelta(t, w, g, 1e-2+1e-3*math.Abs(w), "strip %d text %q: PyTorch's answer", i, text)
		}
		if best := got.Best(1, nil); len(best) > 0 && best[0].Prob > 0.5 && math.Exp(got.Log(symbols(want.says))) > 0.5 {
			right++
		}
	}
	// No measurement, only a sign that symbols mean the same on both sides: chance would be none.
	assert.GreaterOrEqual(t, right, 8)
}

func TestCell_OddStrips_NoAnswerIsSureOfInk(t *testing.T) {
	n, err := net.OpenCell()
	require.NoError(t, err)
	defer func() { assert.NoError(t, n.Close()) }()
	for name, fill := range map[string]byte{"clean": crop.Tone(0), "black": 255, "bright": 0} {
		var s crop.Strip
		for i := range s {
			s[i] = fill
		}
		line, err := n.Look(&s)
		require.NoError(t, err)
		for _, x := range line.Best(3, nil) {
			if len(x.Symbols) > 0 && net.CellSymbols[x.Symbols[0]] != net.CellJunk {
				assert.Less(t, x.Prob, 0.5, "%s: %v; our own logic", name, x.Symbols)
			}
		}
	}
}

func BenchmarkCell(b *testing.B) {
	n, err := net.OpenCell()
	require.NoError(b, err)
	defer func() { assert.NoError(b, n.Close()) }()
	answers := readCellAnswers(b)
	for i := 0; b.Loop(); i++ {
		if _, err := n.Look(&answers[i%len(answers)].strip); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCellDecode(b *testing.B) {
	answers := readCellAnswers(b)
	for i := 0; b.Loop(); i++ {
		answers[i%len(answers)].line.Best(24, nil)
	}
}
