package stack_test

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// list is a photo of card 2 with a row in print for each state, from bib 1 on.
func (b *table) list(states ...sheetmodel.State) store.NewSheet {
	n := b.front(2)
	for i, s := range states {
		n.Read.Reading.Rows = append(n.Read.Reading.Rows, sheetmodel.Row{
			Number: i + 1, Printed: strconv.Itoa(i + 1),
			Passed: sheetmodel.Reading{Field: fmt.Sprintf("row-%02d.passed", i+1), Side: sheetmodel.Front, Text: "x", State: s},
		})
	}
	return n
}

// A mark says that its racer passed, none says nothing, and one that can't be told is no mark. Source: our own logic.
func TestPassages_MarksReachTheRules(t *testing.T) {
	b := newTable(t)
	b.race.Starters = nil
	for bib := 1; bib <= 3; bib++ {
		b.race.Starters = append(b.race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: strconv.Itoa(bib)}, Course: "Blue"})
	}
	b.add(b.list(sheetmodel.Clear, sheetmodel.Empty, sheetmodel.Doubtful, sheetmodel.Clear))
	s, result := b.load()
	card := s.Card(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 2})
	bibs := func(numbers ...string) (all []sheetmodel.Bib) {
		for _, n := range numbers {
			all = append(all, sheetmodel.Bib{Number: n})
		}
		return all
	}
	assert.Equal(t, bibs("1", "4"), card.Passed)
	assert.Equal(t, bibs("3"), card.Untold)
	assert.Equal(t, bibs("1", "2", "3", "4"), card.Listed)
	assert.Empty(t, s.Rows, "a mark is no row of faults")
	said := ""
	for _, f := range result.Findings {
		said += f.Sentence + "\n"
	}
	assert.Contains(t, said, "has neither mark nor row for 2.")
	assert.Contains(t, said, "whether 3 passed can't be told from the mark")
	assert.Contains(t, said, "has a mark for 4, whom the start list of this course has not.")
}

// A form of another make may have rows on its back, which no row of the stack is made of: they keep the list open until somebody has
// looked. Marks for racers who passed are taken from there, and need nobody. Source: our own logic.
func TestPassages_FaultsOnABack_KeepTheListOpen(t *testing.T) {
	b := newTable(t)
	back := b.back(2)
	back.Read.Reading.Rows = b.list(sheetmodel.Clear, sheetmodel.Empty).Read.Reading.Rows
	b.add(b.front(2, "14"), back)
	open := func() (keys []string) {
		s, result := b.load()
		for _, q := range s.Questions {
			if !strings.HasPrefix(q.Key, "rows-on-back/") || q.Answered {
				continue
			}
			keys = append(keys, q.Key)
			assert.True(t, slices.ContainsFunc(result.Incomplete, func(g rules.Gap) bool { return g.Why == q.Ask && g.Run == 1 && g.Course == "Blue" }), q.Ask)
		}
		return keys
	}
	s, _ := b.load()
	assert.Len(t, s.Card(rowRef(2, 1).CardKey).Passed, 1)
	assert.Empty(t, open(), "marks alone")

	back.Read.Reading.Rows[1].HasInk = true
	b.add(back)
	keys := open()
	require.Len(t, keys, 1)
	b.answer(keys[0], stack.AnswerSeen)
	assert.Empty(t, open())

	back.Read.Reading.Rows[0].HasInk = true
	b.add(back)
	assert.Len(t, open(), 1, "another row is another question")
}
