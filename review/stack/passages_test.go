package stack_test

import (
	"fmt"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/review/store"
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
