package review

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestSentence_LeavesPathsAsTheyAre(t *testing.T) {
	for text, want := range map[string]string{
		"the card is missing":            "The card is missing.",
		"r 2/race.yaml:3: date is wrong": "r 2/race.yaml:3: date is wrong.",
		`r\race.yaml:3: date is wrong`:   `r\race.yaml:3: date is wrong.`,
		"which one: run 1/2?":            "Which one: run 1/2?",
		"élan":                           "Élan.",
		"  ":                             "",
	} {
		assert.Equal(t, want, sentence(text))
	}
}
