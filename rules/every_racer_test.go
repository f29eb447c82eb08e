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

// everyRacerDay is a list of bibs 1 to 4 in print at gates 1 and 2 of a run, of which 4 has no mark, with what else is known.
func everyRacerDay(run int, change func(f *rules.Facts)) string {
	race := inventedRace()
	race.Starters = race.Starters[:4]
	f := rules.Facts{Race: &race, Cards: []rules.Card{{
		Key: sheetmodel.CardKey{Run: run, Course: "Blue", Card: 1}, In: true, Gates: []string{"1", "2"},
		Passed: []sheetmodel.Bib{{Number: "1"}, {Number: "2"}, {Number: "3"}},
		Listed: []sheetmodel.Bib{{Number: "1"}, {Number: "2"}, {Number: "3"}, {Number: "4"}},
	}}}
	change(&f)
	said := ""
	for _, found := range rules.Check(f).Findings {
		if found.Rule == "every-racer" {
			said += found.Sentence + "\n"
		}
	}
	return said
}

// Who may not start run 2 is not expected on its lists, and who starts on condition is. Source: ICR 627, as far as who may start; the words
// are our own logic.
func TestEveryRacer_Run2_ExpectsThoseWhoMayStart(t *testing.T) {
	const lacks, odd = "neither mark nor row for 4.", "has a mark for racers who may not start this run: 3 "
	for _, c := range []struct {
		name       string
		change     func(f *rules.Facts)
		lacks, odd bool
	}{
		{"nothing known", func(*rules.Facts) {}, true, false},
		{"run 2's list without 4", func(f *rules.Facts) { f.Race.Runs[1].MayStart = listOf("1,2,3") }, false, false},
		{"run 2's list without 4, who starts on condition", func(f *rules.Facts) {
			f.Race.Runs[1].MayStart, f.Race.Runs[1].Conditional = listOf("1,2,3"), listOf("4")
		}, true, false},
		{"4 did not finish run 1", func(f *rules.Facts) { f.Race.Runs[0].DidNotEnd = listOf("4") }, false, false},
		{"4 did not start run 1", func(f *rules.Facts) { f.Race.Runs[0].DidNotStart = listOf("4") }, false, false},
		{"4 did not finish run 1, and all may start run 2", func(f *rules.Facts) {
			f.Race.Runs[0].DidNotEnd, f.Race.Rules.Run2AfterDSQ = listOf("4"), sheetmodel.Run2Yes
		}, true, false},
		{"4 is out by the jury", func(f *rules.Facts) {
			f.Jury = []rules.JuryLine{{Run: 1, Course: "Blue", Bib: "4", Posted: true, Decided: true}}
		}, false, false},
		{"4 is proposed in run 1", func(f *rules.Facts) {
			f.Cards = append(f.Cards, rules.Card{Key: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, In: true, Gates: []string{"1"}})
			f.Rows = append(f.Rows, rules.Row{
				Ref: sheetmodel.RowRef{CardKey: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, Row: 1}, Bib: "4", BibState: sheetmodel.BibTwoLooks,
				Code: "F", CodeSure: true, Gate: "1", GateSure: true, PanelSure: true, Drawn: true,
			})
		}, false, false},
		{"3 did not finish run 1", func(f *rules.Facts) { f.Race.Runs[0].DidNotEnd = listOf("3") }, true, true},
		{"3 did not finish run 1, and runs for practice", func(f *rules.Facts) {
			f.Race.Runs[0].DidNotEnd, f.Race.Rules.Run2AfterDSQ = listOf("3"), sheetmodel.Run2Practice
		}, true, false},
		{"3 is not in run 2's list", func(f *rules.Facts) { f.Race.Runs[1].MayStart = listOf("1,2,4") }, true, true},
	} {
		said := everyRacerDay(2, c.change)
		assert.Equal(t, c.lacks, strings.Contains(said, lacks), "%s: %s", c.name, said)
		assert.Equal(t, c.odd, strings.Contains(said, odd), "%s: %s", c.name, said)
	}
}

// A late entry written by hand on the second sheet of a list is missing on none of its sheets. Source: our own logic.
func TestEveryRacer_LateEntryOnALaterSheet_IsNotMissed(t *testing.T) {
	day := func(number int) string {
		return everyRacerDay(1, func(f *rules.Facts) {
			f.Cards[0].Passed = append(f.Cards[0].Passed, sheetmodel.Bib{Number: "4"})
			f.Race.Starters = append(f.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: "58"}, Course: "Blue"})
			second := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: number}
			f.Cards = append(f.Cards, rules.Card{Key: second, In: true, Gates: []string{"1", "2"}, Passed: []sheetmodel.Bib{}, Listed: []sheetmodel.Bib{}})
			f.Rows = append(f.Rows, rules.Row{Ref: sheetmodel.RowRef{CardKey: second, Row: 9}, Bib: "58", BibState: sheetmodel.BibTwoLooks, Code: "N", CodeSure: true, GateSure: true, PanelSure: true})
		})
	}
	assert.Empty(t, day(2))
}

// Who has no mark is not named while a row that may be theirs may still be typed unseen: on the list or on a card beside it, struck
// out, or set aside only so that its bib isn't told. Source: our own logic.
func TestEveryRacer_NamesNobodyWhoseRowMayBeTypedUnseen(t *testing.T) {
	for _, c := range []struct {
		name  string
		gates []string // of a card beside; nil: the row is on the list
		row   rules.Row
		named bool
	}{
		{"waiting on the list", nil, rules.Row{BibState: sheetmodel.BibWaiting}, false},
		{"covered on the list", nil, rules.Row{BibState: sheetmodel.BibSetAside, Veiled: true}, false},
		{"struck out on the list, and not typed", nil, rules.Row{BibState: sheetmodel.BibWaiting, Struck: true}, false},
		{"set aside by a person", nil, rules.Row{BibState: sheetmodel.BibSetAside}, true},
		{"waiting on a card at its gates", []string{"2", "3"}, rules.Row{BibState: sheetmodel.BibWaiting}, false},
		{"covered on a card at its gates", []string{"2", "3"}, rules.Row{BibState: sheetmodel.BibSetAside, Veiled: true}, false},
		{"waiting on a card whose gates aren't known", []string{}, rules.Row{BibState: sheetmodel.BibWaiting}, false},
		{"waiting on a card at other gates", []string{"3", "4"}, rules.Row{BibState: sheetmodel.BibWaiting}, true},
	} {
		said := everyRacerDay(1, func(f *rules.Facts) {
			f.Cards[0].Untold, f.Cards[0].Passed = []sheetmodel.Bib{{Number: "2"}}, []sheetmodel.Bib{{Number: "1"}, {Number: "3"}}
			key := f.Cards[0].Key
			if c.gates != nil {
				key.Card = 9
				f.Cards = append(f.Cards, rules.Card{Key: key, Spare: true, In: true, Gates: c.gates})
			}
			w := c.row
			w.Ref, w.Code, w.CodeSure, w.GateSure, w.PanelSure = sheetmodel.RowRef{CardKey: key, Row: 7}, "N", true, true, true
			f.Rows = append(f.Rows, w)
		})
		assert.Equal(t, c.named, strings.Contains(said, " for 4."), "%s: %s", c.name, said)
		assert.Equal(t, c.named, strings.Contains(said, "whether 2 passed"), "%s: %s", c.name, said)
		assert.Equal(t, !c.named, strings.Contains(said, "neither mark nor row for 2 racers; 1 row "), "%s: %s", c.name, said)
	}
}
