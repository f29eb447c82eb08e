package rules_test

import (
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// Which rows are asked about rests on what happened and on how sure each bib is, never on which bib it is: nobody
// who has typed one row can tell from what is asked next what stands in another. Source: our own logic.
func TestCheck_OtherBibs_TheSameRowsAreAskedAbout(t *testing.T) {
	asks := func(f rules.Facts) map[sheetmodel.RowRef]int {
		asked := map[sheetmodel.RowRef]int{}
		for _, s := range rules.Check(f).Standings {
			if s.NeedsLooks > 0 {
				asked[s.Ref] = s.NeedsLooks
			}
		}
		return asked
	}
	rng := rand.New(rand.NewPCG(20270123, 1))
	lost, hindered := 0, 0
	for range 3000 {
		race := inventedRace()
		race.Rules.LostSki, race.Rules.LostSkiFrom = pick(rng, sheetmodel.LostSkiOut, sheetmodel.LostSkiFrom, sheetmodel.LostSkiFrom), 2+rng.IntN(2)
		race.Forerunners = listOf("none")
		for i := range race.Runs {
			race.Runs[i].DidNotStart, race.Runs[i].DidNotEnd = listOf("none"), listOf("none")
			race.Runs[i].Reruns = listOf(pick(rng, "none", "unknown", "41", "42,43"))
		}
		f := rules.Facts{Race: &race}
		for card := 1; card <= 5; card++ {
			key := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card}
			f.Cards = append(f.Cards, rules.Card{Key: key, In: true})
			for i := range rng.IntN(3) {
				code := pick(rng, "F", "L", "L", "M", "H")
				f.Rows = append(f.Rows, rules.Row{
					Ref: sheetmodel.RowRef{CardKey: key, Row: i + 1}, Code: code, CodeSure: rng.IntN(8) > 0, GateSure: true,
					Gate:     strconv.Itoa((card-1)*7 + 1 + rng.IntN(6)),
					BibState: pick(rng, sheetmodel.BibTwoLooks, sheetmodel.BibOneLook, sheetmodel.BibOneLook, sheetmodel.BibWaiting),
				})
			}
		}
		var first map[sheetmodel.RowRef]int
		for try := range 3 {
			for i := range f.Rows {
				f.Rows[i].Bib = strconv.Itoa(41 + rng.IntN(4))
			}
			got := asks(f)
			if try == 0 {
				first = got
			}
			if !assert.Equal(t, first, got, "%+v", f.Rows) {
				return
			}
		}
		for _, r := range f.Rows {
			if r.BibState == sheetmodel.BibOneLook && r.CodeSure && first[r.Ref] > 0 {
				switch r.Code {
				case "L":
					lost++
				case "H":
					hindered++
				}
			}
		}
	}
	assert.Greater(t, lost, 1000, "lost skis with one look are asked about")
	assert.Greater(t, hindered, 500)
}
