package split_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/testdata/split"
)

func TestLists_TogetherCoverEachDigitOnce(t *testing.T) {
	seen := make([]string, split.Digits)
	for name, list := range map[string][]int{
		"train": split.Train(), "calibration": split.Calibration(), "threshold": split.Threshold(),
	} {
		require.IsIncreasing(t, list, name)
		for _, i := range list {
			assert.Empty(t, seen[i], "digit %d is in %s too", i, name)
			seen[i] = name
		}
	}
	assert.NotContains(t, seen, "", "each digit belongs to a part")
	// Counts of the frozen lists: a changed list voids weights, curves and thresholds.
	assert.Len(t, split.Train(), 44488)
	assert.Len(t, split.Calibration(), 7664)
	assert.Len(t, split.Threshold(), 7848)
	assert.Len(t, split.Select(), 4537)
}

func TestSelect_IsHeldOutOfLearn(t *testing.T) {
	learn := make(map[int]bool)
	for _, i := range split.Learn() {
		learn[i] = true
	}
	assert.Len(t, learn, len(split.Train())-len(split.Select()))
	for _, i := range split.Select() {
		assert.False(t, learn[i])
		assert.Contains(t, split.Train(), i)
	}
}

func TestParse_FormatComesBack_BadListsAreRefused(t *testing.T) {
	got, err := split.Parse(split.Format([]int{0, 7, 59999}))
	require.NoError(t, err)
	assert.Equal(t, []int{0, 7, 59999}, got)
	for _, bad := range []string{"", "3\n3\n", "5\n4\n", "60000\n", "x\n", "-1\n"} {
		_, err := split.Parse(bad)
		assert.Error(t, err, "%q", bad)
	}
}
