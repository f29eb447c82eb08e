package net_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/crop"
	"gatefold/ocr/net"
)

// markAnswer is one tick box with what the trained mark net answered in PyTorch, see ocr/train/markanswers.py.
type markAnswer struct {
	marked bool
	box    crop.Mark
	claim  float32
}

func readMarkAnswers(t testing.TB) []markAnswer {
	t.Helper()
	const record = 1 + crop.MarkW*crop.MarkH + 4
	records := recordsOf(t, "markanswers", record)
	out := make([]markAnswer, len(records))
	for i, r := range records {
		out[i].marked = r[0] == 1
		copy(out[i].box[:], r[1:])
		out[i].claim = float32At(r[1+len(out[i].box):])
	}
	return out
}

func TestMarks_32Boxes_AnswersAsInTraining(t *testing.T) {
	n, err := net.OpenMarks()
	require.NoError(t, err)
	defer func() { assert.NoError(t, n.Close()) }()
	answers := readMarkAnswers(t)
	require.Len(t, answers, 32)
	right := 0
	for i, a := range answers {
		got, err := n.Look(&a.box)
		require.NoError(t, err)
		// Source: PyTorch's answer for the same weights. The file holds batch norm folded in, hence the tolerance.
		assert.InDelta(t, a.claim, got, 2e-3, "box %d", i)
		if (got > 0.5) == a.marked {
			right++
		}
	}
	assert.GreaterOrEqual(t, right, 30, "the answers are not of these boxes") // our own measure: ocr/train/marks.md
}

// BenchmarkMarks is one box through the mark net, on one core with OPENCV_FOR_THREADS_NUM=1.
func BenchmarkMarks(b *testing.B) {
	n, err := net.OpenMarks()
	require.NoError(b, err)
	defer n.Close() //nolint:errcheck // a benchmark
	a := readMarkAnswers(b)[0]
	for b.Loop() {
		_, err := n.Look(&a.box)
		require.NoError(b, err)
	}
}
