package net_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/crop"
	"gatefold/ocr/net"
)

// troubleAnswer is one comb with what the trained trouble net answered in PyTorch, see ocr/train/troubleanswers.py.
type troubleAnswer struct {
	kind int
	comb crop.Comb
	says net.KindProbs
}

func readTroubleAnswers(t testing.TB, file string) []troubleAnswer {
	t.Helper()
	const record = 1 + crop.CombW*crop.CombH + 4*net.Kinds
	records := recordsOf(t, file, record)
	out := make([]troubleAnswer, len(records))
	for i, r := range records {
		out[i].kind = int(r[0])
		copy(out[i].comb[:], r[1:])
		for k := range out[i].says {
			out[i].says[k] = float32At(r[1+len(out[i].comb)+4*k:])
		}
	}
	return out
}

func TestTrouble_30Combs_AnswersAsInTraining(t *testing.T) {
	for file, open := range map[string]func() (*net.Trouble, error){"troubleanswers": net.OpenTrouble, "formsanswers": net.OpenForms} {
		t.Run(file, func(t *testing.T) {
			n, err := open()
			require.NoError(t, err)
			defer func() { assert.NoError(t, n.Close()) }()
			answers := readTroubleAnswers(t, file)
			require.Len(t, answers, 30)
			for i, a := range answers {
				got, err := n.Look(&a.comb)
				require.NoError(t, err)
				for k := range got {
					// Source: PyTorch's answer for the same weights. The file holds batch norm folded in, and the GPU multiplies with
					// ten bits, hence the tolerance.
					assert.InDelta(t, a.says[k], got[k], 5e-3, "comb %d of kind %d, claim for %d", i, a.kind, k)
				}
			}
		})
	}
}

// BenchmarkTrouble is one comb through the trouble net, on one core with OPENCV_FOR_THREADS_NUM=1.
func BenchmarkTrouble(b *testing.B) {
	n, err := net.OpenTrouble()
	require.NoError(b, err)
	defer n.Close() //nolint:errcheck // a benchmark
	a := readTroubleAnswers(b, "troubleanswers")[0]
	for b.Loop() {
		_, err := n.Look(&a.comb)
		require.NoError(b, err)
	}
}
