package rules_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// Keys are the rules' own: those that name cards by their number, and those that don't. Source: our own logic.
func TestCardsAbout(t *testing.T) {
	courses := []string{"Blue", "Blue/North", "Red"}
	card := func(run int, course string, number int) sheetmodel.CardKey {
		return sheetmodel.CardKey{Run: run, Course: course, Card: number}
	}
	for key, want := range map[string][]sheetmodel.CardKey{
		"struck-row/1/Blue/4/2":         {card(1, "Blue", 4)},
		"row-count/2/Red/12/3/2":        {card(2, "Red", 12)},
		"two-cards/1/Blue/4+7":          {card(1, "Blue", 4), card(1, "Blue", 7)},
		"struck-row/1/Blue/North/4/2":   {card(1, "Blue/North", 4)},
		"lost-ski/1/Blue/bib 4/6":       nil,
		"two-photos/run1/Blue/card-4/x": nil,
		"lost-ski/40":                   nil,
		"struck-row/1/Green/4/2":        nil,
		"struck-row/1/Blue/4+/2":        nil,
		"":                              nil,
	} {
		assert.Equal(t, want, rules.CardsAbout(key, courses), key)
	}
}

// Only a question about one row of one paper goes with it; any other is asked anew.
func TestMoved(t *testing.T) {
	from, to := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 4}, sheetmodel.CardKey{Run: 2, Course: "Red", Card: 17}
	for key, want := range map[string]string{
		"struck-row/1/Blue/4/12": "struck-row/2/Red/17/12",
		"other-bib/1/Blue/4/1":   "other-bib/2/Red/17/1",
		"struck-row/1/Blue/44/1": "",
		"row-count/1/Blue/4/3/2": "",
		"two-cards/1/Blue/4+7":   "",
		"struck-row/1/Blue/4/x":  "",
	} {
		moved, ok := rules.Moved(key, from, to)
		assert.Equal(t, want, moved, key)
		assert.Equal(t, want != "", ok, key)
	}
}
