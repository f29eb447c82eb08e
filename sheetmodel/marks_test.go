package sheetmodel

import (
	"math/bits"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestMarks_AnyTwoInAnyTurn_DifferEnough(t *testing.T) {
	require.Len(t, markDictionary(), MarkCount)
	for i := range MarkCount {
		for j := range MarkCount {
			p := MarkPattern(j)
			for turn := range 4 {
				if i != j || turn != 0 {
					assert.GreaterOrEqual(t, bits.OnesCount16(MarkPattern(i)^p), MarkDistance, "marks %d and %d, turn %d", i, j, turn)
				}
				p = turnPattern(p)
			}
		}
	}
}

func TestMarkFromPattern_OneModuleWrong_StillNamesMarkAndTurn(t *testing.T) {
	for id := range MarkCount {
		p := MarkPattern(id)
		for turn := range 4 {
			for bit := range 16 {
				gotID, gotTurn, distance := MarkFromPattern(p ^ 1<<bit)
				assert.Equal(t, []int{id, turn, 1}, []int{gotID, gotTurn, distance})
			}
			p = turnPattern(p)
		}
	}
}
