package racefolder

import (
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPlaceGates_ARangeFollowsTheCourse(t *testing.T) {
	course := []string{"1", "2", "2a", "3", "4"}
	for text, want := range map[string][]string{
		"2-3":     {"2", "2a", "3"},
		"2a-4":    {"2a", "3", "4"},
		"02 – 2A": {"2", "2a"},
		"4, 1":    {"1", "4"},
	} {
		got, err := placeGates(strings.Split(text, ","), course)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	got, err := placeGates([]string{"7-9"}, nil)
	require.NoError(t, err)
	assert.Equal(t, []string{"7", "8", "9"}, got, "while the course isn't known, by number")
	_, err = placeGates([]string{"7a-9"}, nil)
	require.EqualError(t, err, "gates 7a-9: a range needs plain numbers; write gates such as 12a singly, as in 1-12, 12a, 13-34")
}

// What SpellGates writes is read back as the same gates, for any course and any part of it.
func TestSpellGates_ReadsBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		var course []string
		for n := range 1 + rng.IntN(40) {
			if rng.IntN(10) > 0 {
				course = append(course, strconv.Itoa(n+1))
			}
			for _, l := range []string{"a", "b"} {
				if rng.IntN(12) == 0 {
					course = append(course, strconv.Itoa(n+1)+l)
				}
			}
		}
		if len(course) == 0 {
			continue
		}
		again, err := courseGates(strings.Split(SpellGates(course, course), ","))
		require.NoError(t, err)
		require.Equal(t, course, again)
		part := slices.DeleteFunc(slices.Clone(course), func(string) bool { return rng.IntN(3) == 0 })
		if len(part) == 0 {
			continue
		}
		got, err := placeGates(strings.Split(SpellGates(part, course), ","), course)
		require.NoError(t, err, "%v of %v", part, course)
		require.Equal(t, part, got)
	}
}

func TestDidYouMean(t *testing.T) {
	known := []string{"name", "date", "groups"}
	for got, want := range map[string]string{
		"nqme": "; did you mean name?", "Groups": "; did you mean groups?", "gropus": "; did you mean groups?",
		"weather": "; write one of: name, date, groups",
	} {
		assert.Equal(t, want, didYouMean(got, known), got)
	}
	assert.Equal(t, 1, editDistance("ab", "ba"))
	assert.Equal(t, 3, editDistance("kitten", "sitting")) // source: the textbook example of Levenshtein distance, from memory
}
