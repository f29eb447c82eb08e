package draft_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/draft"
	"gatefold/sheetmodel"
)

func TestExplain_SaysWhyABibIsOnTheListOrIsNot(t *testing.T) {
	b := afternoon(t)
	d := make1(t, b, draft.Options{})
	part := func(bib string) draft.Explained {
		t.Helper()
		for _, p := range d.Explain(b.Race, bib, "").Parts {
			if p.Where == "Blue · run 1" {
				return p
			}
		}
		require.Fail(t, "no part", bib)
		return draft.Explained{}
	}
	p := part("14")
	assert.True(t, strings.HasPrefix(p.Answer, "Proposed: gate 6, F, "), p.Answer)
	assert.Contains(t, p.Answer, "Referee and jury decide.")
	require.Len(t, p.Rows, 2)
	assert.Equal(t, "card 1, row 1, place B1: F at gate 6", p.Rows[0].Words)
	assert.Len(t, p.Rows[0].Looks, 2)

	p = part("9")
	assert.Contains(t, p.Answer, "would be proposed")
	assert.Contains(t, p.Answer, "its bib needs 1 more look")
	assert.Contains(t, p.Open, "1 card is not in")

	// The ink may be 46 or 40: neither is told anything of it but that a row waits.
	for _, bib := range []string{"46", "40"} {
		for _, p := range d.Explain(b.Race, bib, "").Parts {
			assert.Empty(t, p.Rows, bib)
			if p.Where == "Blue · run 1" {
				assert.Equal(t, "Not on the list: no row of a card that is in names it with certainty.", p.Answer)
				assert.Contains(t, strings.Join(p.Open, "\n"), "1 row waits for its bib")
			}
		}
	}
	none := d.Explain(b.Race, "999", "")
	assert.Equal(t, "The start list has no such bib.", none.Known)
	require.Len(t, none.Parts, 1, "a bib nobody knows isn't told course by course") // our own logic
	for _, p := range none.Parts {
		assert.Contains(t, strings.Join(p.Open, ""), "what it may be is not told here")
		assert.Equal(t, "Not on the list: no row of a card that is in names it with certainty.", p.Answer)
		assert.NotEmpty(t, p.Open)
	}
	assert.Equal(t, `The race has no group "seniors"; it has girls, boys.`, d.Explain(b.Race, "14", "seniors").Known)
}

// Two groups may share a number: what waits of one says nothing against what is proposed of the other.
func TestExplain_TwoGroupsWithOneNumber_SaysBoth(t *testing.T) {
	d := draft.Draft{Sections: []draft.Section{{
		Run: 1, Course: "Blue",
		Proposed: []draft.Line{{Bib: "7", Group: "boys", Gate: "5", Code: "F", Meaning: "gate fault", Basis: "x"}},
		Waiting:  []draft.Line{{Bib: "7", Group: "girls", Gate: "9", Code: "F", Meaning: "gate fault", Basis: "x", WaitsFor: []string{"its bib needs 1 more look"}}},
	}}}
	race := &sheetmodel.Race{Starters: []sheetmodel.Starter{{Bib: sheetmodel.Bib{Number: "7", Group: "boys"}, Course: "Blue"}, {Bib: sheetmodel.Bib{Number: "7", Group: "girls"}, Course: "Blue"}}}
	both := d.Explain(race, "7", "").Parts[0].Answer
	assert.Contains(t, both, "boys: Proposed: gate 5")
	assert.Contains(t, both, "girls: Not on the list yet: gate 9")
	all := d.ExplainAll(race, "7", "")
	require.Len(t, all, 2)
	assert.Equal(t, "boys 7", all[0].Who())
	assert.Contains(t, all[0].Parts[0].Answer, "gate 5")
	assert.NotContains(t, all[0].Parts[0].Answer, "gate 9")
	assert.Contains(t, all[1].Parts[0].Answer, "gate 9")
	assert.Len(t, d.ExplainAll(race, "7", "girls"), 1)
	assert.Len(t, d.ExplainAll(race, "8", ""), 1, "nobody wears it")
	boys := d.Explain(race, "7", "boys").Parts[0].Answer
	assert.True(t, strings.HasPrefix(boys, "Proposed: gate 5"), boys)
	assert.NotContains(t, boys, "gate 9")
}
