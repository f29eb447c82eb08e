package rules_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// A race of which no card was spoken yet: every placed card is missing, each once, though two judges share one.
// Expected values: our own logic.
func TestCheck_NoCards_EveryPlaceIsMissing(t *testing.T) {
	race := inventedRace()
	blue := race.Run(1).Course("Blue")
	blue.Places = append(blue.Places, sheetmodel.Place{Card: 5, Name: "E, second judge", Gates: labels("29-34")})
	shown := show(rules.Check(rules.Facts{Race: &race}), "", false)
	assert.Equal(t, `warns missing-card: Card 1 (A, gates 1-7): no card. (665.1)
warns missing-card: Card 2 (B, gates 7-14): no card. (665.1)
warns missing-card: Card 3 (C, gates 15-21): no card. (665.1)
warns missing-card: Card 4 (D, gates 22-28): no card. (665.1)
warns missing-card: Card 5 (E, gates 29-34): no card. (665.1)
incomplete: Card 1 (A, gates 1-7): no card.
incomplete: Card 2 (B, gates 7-14): no card.
incomplete: Card 3 (C, gates 15-21): no card.
incomplete: Card 4 (D, gates 22-28): no card.
incomplete: Card 5 (E, gates 29-34): no card.
`, shown)
}

// A card that is spoken of twice is in if one of the two says so, and what else is open keeps the draft open.
// Expected values: our own logic.
func TestCheck_CardTwice_AndWhatElseIsOpen(t *testing.T) {
	f := parse(t, `card C`)
	out := rules.Card{Key: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 3}}
	f.Cards = append([]rules.Card{out}, f.Cards...)
	require.Equal(t, "nothing\n", show(rules.Check(f), "", false))
	f.Open = []rules.Gap{{Run: 1, Course: "Blue", Why: "Which of two photos counts is asked."}}
	require.Equal(t, "incomplete: Which of two photos counts is asked.\n", show(rules.Check(f), "", false))
}

// Run 1 was on another course: its places say nothing of this one's headers.
// Expected values: our own logic.
func TestCheck_RunGates_CourseOnlyInRun2(t *testing.T) {
	f := parse(t, "on run=2\ncard B header=7-14")
	f.Race.Runs[0].Courses = f.Race.Runs[0].Courses[1:]
	f.Cards = f.Cards[:0:0]
	f.Cards = append(f.Cards, rules.Card{Key: sheetmodel.CardKey{Run: 2, Course: "Blue", Card: 2}, In: true, HeaderFrom: "7", HeaderTo: "14"})
	assert.False(t, speaks(rules.Check(f), "run-gates"))
	assert.True(t, speaks(rules.Check(f), "written-gates"))
}
