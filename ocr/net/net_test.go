package net_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/crop"
	"gatefold/ocr/net"
)

// answer is one box with what the trained nets answered in PyTorch, see ocr/train/answers.py.
type answer struct {
	label uint8
	box   crop.Crop
	a, b  net.Probs
}

func readAnswers(t testing.TB) []answer {
	t.Helper()
	const pix, probs = 2 + crop.CellW*crop.CellH + crop.GlyphSide*crop.GlyphSide, net.Classes * 4
	const record = pix + 2*probs
	records := recordsOf(t, "answers", record)
	out := make([]answer, len(records))
	for i, r := range records {
		out[i].label = r[0]
		copy(out[i].box.Cell[:], r[2:])
		copy(out[i].box.Glyph[:], r[2+len(out[i].box.Cell):])
		for c := range net.Classes {
			out[i].a[c] = float32At(r[pix+4*c:])
			out[i].b[c] = float32At(r[pix+probs+4*c:])
		}
	}
	return out
}

func TestClassify_100Boxes_AnswersAsInTraining(t *testing.T) {
	n, err := net.Open()
	require.NoError(t, err)
	defer func() { assert.NoError(t, n.Close()) }()
	answers := readAnswers(t)
	require.Len(t, answers, 100)
	right := 0
	for i, want := range answers {
		a, b, err := n.Classify(&want.box)
		require.NoError(t, err)
		for c := range net.Classes {
			assert.InDelta(t, want.a[c], a[c], 1e-3, "box %d net a class %d", i, c)
			assert.InDelta(t, want.b[c], b[c], 1e-3, "box %d net b class %d", i, c)
		}
		if first, _ := net.Mean(a, b).Best(); first == int(want.label) {
			right++
		}
	}
	// No measurement, only a sign that labels and classes mean the same: chance would be 8.
	assert.Greater(t, right, 85)
}

func TestBest_NamesTheTwoLikeliest(t *testing.T) {
	p := net.Probs{0: 0.1, 4: 0.5, 9: 0.3, net.Other: 0.1}
	first, second := p.Best()
	assert.Equal(t, 4, first)
	assert.Equal(t, 9, second)
	first, second = net.Probs{1: 0.6, 0: 0.4}.Best()
	assert.Equal(t, 1, first)
	assert.Equal(t, 0, second)
}

func BenchmarkClassify(b *testing.B) {
	n, err := net.Open()
	require.NoError(b, err)
	defer func() { assert.NoError(b, n.Close()) }()
	answers := readAnswers(b)
	for i := 0; b.Loop(); i++ {
		if _, _, err := n.Classify(&answers[i%len(answers)].box); err != nil {
			b.Fatal(err)
		}
	}
}
