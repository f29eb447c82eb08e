package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// Counts are set down by hand from the definition of eyeCounts; our own logic.
func TestCountEyes(t *testing.T) {
	items := []eyeItem{
		{No: 1, Level: "hard", Truth: "17", Machine: "11", Alone: true},               // fools the first eye
		{No: 2, Level: "hard", Truth: "46", Machine: "40", Alone: false},              // fools both, but has a rival
		{No: 3, Level: "hard", Truth: "8", Machine: "3", Alone: true, JudgeOnl: true}, // no blind entry makes it a call
		{No: 4, Level: "hard", Truth: "23", Machine: "23", Alone: true},               // second eye slips
		{No: 5, Level: "hard", Truth: "99", Machine: "99", Alone: true},               // second eye can't tell
		{No: 0, Level: "hard", Truth: "5", Machine: "5", Alone: true},                 // not shown
		{No: 6, Level: "ordinary", Truth: "7", Machine: "1", Alone: true},             // another level
	}
	typed := [2]map[int]string{
		{1: "11", 2: "40", 3: "3", 4: "23", 5: "99", 6: "1"},
		{1: "17", 2: "40", 3: "3", 4: "28", 5: "?", 6: "1"},
	}
	got := countEyes(items, "hard", typed)
	require.InDelta(t, 0.7514, got.Upper95, 0.0001, "Clopper and Pearson 1934: the p for which P(X <= 1) of Binomial(4, p) is 0.05")
	got.Upper95 = 0
	require.Equal(t, &eyeCounts{
		Bibs: 6, Misread: 3, Alone: 4, AloneMisread: 1, Fooled: [2]int{1, 0}, EitherFooled: 1,
		FooledAll: [2]int{3, 2}, Others: 2, OthersWrong: [2]int{0, 1}, OthersUnread: [2]int{0, 1},
	}, got)
}

func TestReadTyped_NothingIsLeftOut(t *testing.T) {
	items := []eyeItem{{No: 1}, {No: 2}, {No: 0}}
	for text, want := range map[string]string{
		"1,12\n":           "picture 2 is not typed",
		"1,12\n2,?\n1,4\n": "picture 1 is typed twice",
		"one,12\n2,3\n":    `"one" is no number of a picture`,
	} {
		name := filepath.Join(t.TempDir(), "typed.csv")
		require.NoError(t, os.WriteFile(name, []byte(text), 0o600))
		_, err := readTyped(name, items)
		require.ErrorContains(t, err, want)
	}
	name := filepath.Join(t.TempDir(), "typed.csv")
	require.NoError(t, os.WriteFile(name, []byte("2, ?\n1,12\n"), 0o600))
	typed, err := readTyped(name, items)
	require.NoError(t, err)
	require.Equal(t, map[int]string{1: "12", 2: "?"}, typed)
}
