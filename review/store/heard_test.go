package store_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Our own logic: too many lines taken for ones that name a bib cost an entry by another person, too few a look.
func TestHeardEntry_NamesBib(t *testing.T) {
	for words, want := range map[string]bool{
		"": false, "course clear": false, "course clear at 11:06": false, "11.06 course hold": false, "judge at gate 12 has no pencil": false, "gate 7": false,
		"34 is out": true, "number 34, gate 12": true, "gate 12: 34 both skis": true, "bib34": true, "no.34": true, "V1 through": true, "34": true,
		"at 11:06 34 fell": true, "0043 555 0199": true, "call 066412345678": false, "9, missed": false,
	} {
		assert.Equal(t, want, store.HeardEntry{Gate: "9", Words: words}.NamesBib(), words)
	}
	assert.True(t, store.HeardEntry{Bib: sheetmodel.Bib{Number: "34"}}.NamesBib())
	assert.False(t, store.HeardEntry{Words: "34", Strikes: 3}.NamesBib())
}

// Whoever wrote down a call in one copy, or read it there, has typed no bib of that course unseen in the other: which came first, two clocks
// don't tell. Source: our own logic.
func TestJoin_CallKnownOnTheOtherLaptop_IsNoLongerUnseen(t *testing.T) {
	for _, c := range []struct {
		by, course string
		want       bool
	}{{"bo", "Blue", false}, {"Bo", "Red", true}, {"Cy", "Blue", true}} {
		for _, way := range []string{"typed there", "typed here", "typed there, read here", "typed here, read there"} {
			a, b := parted(t)
			hears, types := a, b
			if strings.HasPrefix(way, "typed here") {
				hears, types = b, a
			}
			if strings.Contains(way, "read") {
				read := store.Served{Session: "read", Person: c.by, Readings: []string{store.CallKey(1, c.course, "9")}, Reveals: true, What: "heard"}
				require.NoError(t, hears.Serve(t.Context(), read))
			} else {
				require.NoError(t, hears.Hear(t.Context(), store.HeardEntry{Run: 1, Course: c.course, Clock: "11:06", From: "gate 9", Gate: "9", Words: "46 is out", By: c.by}))
			}
			require.True(t, types.types("Bo", 2, "46").Blind)
			a.joins(b)
			all, err := a.Decisions(t.Context())
			require.NoError(t, err)
			for _, d := range all {
				if d.By == "Bo" {
					assert.Equal(t, c.want, d.Blind, "%s, %s, %s", c.by, c.course, way)
				}
			}
		}
	}
}
