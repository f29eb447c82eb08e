package rules_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// What is missing on lists of 200 printed bibs is exactly what the truth says, however the bibs fall onto sheets.
// Source: our own logic; a naive second telling beside the rule.
func TestEveryRacer_GeneratedLists_MissingPassagesAreExact(t *testing.T) {
	const seed = 20261
	for day := range 500 {
		rng := rand.New(rand.NewPCG(seed, uint64(day)))
		race := inventedRace()
		race.Starters = nil
		sheets := 1 + rng.IntN(3)
		cards := make([]rules.Card, sheets)
		for i := range cards {
			cards[i] = rules.Card{Key: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: i + 1}, In: true, Gates: []string{"1", "2"}, Passed: []sheetmodel.Bib{}}
		}
		missing, untold, odd := map[int][]string{}, map[int][]string{}, map[int][]string{}
		race.Runs[0].DidNotStart = sheetmodel.BibList{Given: sheetmodel.ListGiven}
		race.Runs[0].DidNotEnd = race.Runs[0].DidNotStart // else the invented race has 31 out
		for n := 1; n <= 200; n++ {
			bib, at := sheetmodel.Bib{Number: strconv.Itoa(n)}, (n-1)*sheets/200
			race.Starters = append(race.Starters, sheetmodel.Starter{Bib: bib, Course: "Blue"})
			c := &cards[at]
			c.Listed = append(c.Listed, bib)
			out := rng.Float64() < 0.05
			if out {
				race.Runs[0].DidNotStart.Bibs = append(race.Runs[0].DidNotStart.Bibs, bib)
			}
			switch p := rng.Float64(); {
			case p < 0.005:
				c.Untold = append(c.Untold, bib)
				untold[at] = append(untold[at], bib.Number)
			case p < 0.01:
				if !out {
					missing[at] = append(missing[at], bib.Number)
				}
			case !out || p < 0.02:
				c.Passed = append(c.Passed, bib)
				if out {
					odd[at] = append(odd[at], bib.Number)
				}
			}
		}
		said := map[int][3]string{}
		for _, f := range rules.Check(rules.Facts{Race: &race, Cards: cards}).Findings {
			for kind, mark := range []string{" has neither mark nor row for ", ": whether ", " has a mark for "} {
				_, rest, ok := strings.Cut(f.Sentence, mark)
				if !ok || f.Card == nil {
					continue
				}
				for _, end := range []string{", in the list", " passed can't"} {
					rest, _, _ = strings.Cut(rest, end)
				}
				one := said[f.Card.Card-1]
				one[kind] = strings.TrimSuffix(rest, ".")
				said[f.Card.Card-1] = one
			}
		}
		for at := range cards {
			for kind, want := range [][]string{missing[at], untold[at], odd[at]} {
				got := strings.FieldsFunc(strings.ReplaceAll(said[at][kind], " and ", ","), func(r rune) bool { return r == ',' || r == ' ' })
				if kind == 0 && len(want) > 5 {
					assert.True(t, strings.HasPrefix(said[at][kind], fmt.Sprintf("%d racers, the first of them %s", len(want), want[0])), said[at][kind])
					continue
				}
				assert.True(t, slices.Equal(want, got), "day %d sheet %d: want %v, said %q", day, at+1, want, said[at][kind])
			}
		}
	}
}
