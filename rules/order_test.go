package rules_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// In which order bibs stand on a card proves nothing of any of them: a row that waits between 20 and 22 is no 21. With the
// same rows in any order the same racers are proposed, and the same rows wait for as many looks.
// Source: our own logic.
func TestOrderOfBibs_RaisesNothing(t *testing.T) {
	race := inventedRace()
	for round := range 200 {
		rng := rand.New(rand.NewPCG(4711, uint64(round)))
		key := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
		card := rules.Card{Key: key, In: true, Gates: []string{"1", "2", "3"}}
		first := 1 + rng.IntN(8)
		var rows []rules.Row
		for i := range 8 {
			r := rules.Row{
				Ref: sheetmodel.RowRef{CardKey: key, Row: i + 1}, Bib: strconv.Itoa(first + i), BibState: sheetmodel.BibTwoLooks,
				Code: "F", CodeSure: true, Gate: strconv.Itoa(1 + i%3), GateSure: true,
			}
			switch rng.IntN(4) {
			case 0:
				r.BibState, r.Reason = sheetmodel.BibOneLook, "one look"
			case 1:
				r.BibState, r.Reason = sheetmodel.BibWaiting, "not certain"
			}
			rows = append(rows, r)
		}
		// What rests on a row is told by its bib, for its number changes.
		told := func(order []int) (calls, standing []string) {
			var shuffled []rules.Row
			bibs := map[sheetmodel.RowRef]string{}
			for n, i := range order {
				r := rows[i]
				r.Ref.Row = n + 1
				bibs[r.Ref] = r.Bib
				shuffled = append(shuffled, r)
			}
			result := rules.Check(rules.Facts{Race: &race, Cards: []rules.Card{card}, Rows: shuffled})
			for _, c := range result.Calls {
				calls = append(calls, fmt.Sprint(c.Bib, c.Gate, c.Code, c.Waiting))
			}
			for _, s := range result.Standings {
				standing = append(standing, fmt.Sprint(bibs[s.Ref], s.Standing, s.NeedsLooks))
			}
			slices.Sort(calls)
			slices.Sort(standing)
			return calls, standing
		}
		inOrder := []int{0, 1, 2, 3, 4, 5, 6, 7}
		calls, standing := told(inOrder)
		for _, r := range rows {
			if r.BibState != sheetmodel.BibTwoLooks {
				assert.NotContains(t, calls, fmt.Sprint(r.Bib, r.Gate, r.Code, false), "a bib that waits stands by its neighbours")
			}
		}
		assert.Len(t, standing, len(rows))
		otherCalls, otherStanding := told(rng.Perm(len(rows)))
		assert.Equal(t, calls, otherCalls)
		assert.Equal(t, standing, otherStanding)
	}
}
