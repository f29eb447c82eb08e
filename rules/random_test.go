package rules_test

import (
	"fmt"
	"math/rand/v2"
	"strconv"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// randomFacts makes a race day in which things collide often: few bibs, few gates, all codes, all states.
func randomFacts(rng *rand.Rand) rules.Facts {
	race := inventedRace()
	race.Run(2).Course("Blue").Places = run2Places()
	for _, group := range []string{"girls", "boys"} {
		race.Starters = append(race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Group: group, Number: "208"}, Course: "Blue"})
	}
	race.Forerunners = listOf(pick(rng, "none", "unknown", "V1,V2", "7"))
	for i := range race.Runs {
		race.Runs[i].DidNotStart = listOf(pick(rng, "none", "unknown", "22", "7,8"))
		race.Runs[i].DidNotEnd = listOf(pick(rng, "none", "unknown", "31", "7,12"))
		race.Runs[i].Reruns = listOf(pick(rng, "none", "unknown", "9", "12,14"))
	}
	if rng.IntN(8) == 0 {
		race.Runs[0].Courses[0].Gates = nil
	}
	race.Rules.LostSki = pick(rng, sheetmodel.LostSkiNever, sheetmodel.LostSkiOut, sheetmodel.LostSkiFrom, sheetmodel.LostSkiFrom, "")
	race.Rules.LostSkiFrom = rng.IntN(4)
	race.Rules.FaultThenDNF = pick(rng, "inform", "propose")
	race.Rules.Run2AfterDSQ = pick(rng, sheetmodel.Run2No, sheetmodel.Run2Yes, sheetmodel.Run2Practice)
	race.Rules.ClimbBack = pick(rng, sheetmodel.ClimbByDiscipline, sheetmodel.ClimbAlways, sheetmodel.ClimbNoStop, sheetmodel.ClimbNever)
	race.Rules.Overtaken, race.Rules.SmallCards = rng.IntN(2) == 0, rng.IntN(6) == 0
	race.Runs[0].LateStarts = listOf(pick(rng, "unknown", "22"))
	race.Runs[1].MayStart = listOf(pick(rng, "unknown", "unknown", "7,8,9,12"))
	race.Runs[1].Conditional = listOf(pick(rng, "none", "14"))
	if rng.IntN(4) == 0 {
		race.Runs[0].Exchanged = [][2]sheetmodel.Bib{{{Number: "8"}, {Number: "9"}}}
		race.Runs[0].Heard = []sheetmodel.Heard{{Bib: sheetmodel.Bib{Number: "14"}, Course: "Blue", Gate: "9"}}
		race.Runs[0].Courses[0].Changes = []sheetmodel.GateChange{
			{At: "10:00", Gate: "8", What: sheetmodel.GateRenumbered, Was: "7"}, {At: "10:00", Gate: "3", What: sheetmodel.GateRemoved},
		}
		race.Runs[0].Courses[0].Places[1].Relief = []sheetmodel.Relief{{At: "11:00"}}
	}
	race.Rules.DrawingDemanded = rng.IntN(4) == 0

	f := rules.Facts{Race: &race, Answers: map[string]string{}}
	if rng.IntN(3) == 0 {
		for _, bib := range []string{"7", "9", "14"} {
			f.Jury = append(f.Jury, rules.JuryLine{
				Run: 1 + rng.IntN(2), Course: "Blue", Bib: bib, Posted: rng.IntN(2) == 0, PostedGate: "7", PostedCode: "F",
				Decided: rng.IntN(2) == 0, Overruled: rng.IntN(2) == 0, At: "12:31", Late: rng.IntN(4) == 0,
			})
		}
	}
	for run := 1; run <= 2; run++ {
		for card := 1; card <= 6; card++ {
			addRandomCard(rng, &f, sheetmodel.CardKey{Run: run, Course: "Blue", Card: card})
		}
	}
	addRandomCard(rng, &f, sheetmodel.CardKey{Run: 1, Course: "Red", Card: 1})
	addRandomCard(rng, &f, sheetmodel.CardKey{Card: 31})
	return f
}

// addRandomCard adds one card with some rows; most of it is plausible, some of it is not.
func addRandomCard(rng *rand.Rand, f *rules.Facts, key sheetmodel.CardKey) {
	c := rules.Card{Key: key, In: rng.IntN(6) > 0, Spare: key.Run == 0 || key.Card > 5}
	if c.Spare && key.Run > 0 {
		c.Gates = labels(pick(rng, "7-14", "9-12", "3", "1-6"))
	}
	c.Group = pick(rng, "", "", "girls", "boys")
	c.Ringed = pick(rng, "", "", "", "Blue", "Red")
	if rng.IntN(5) == 0 {
		c.HeaderFrom, c.HeaderTo = strconv.Itoa(1+rng.IntN(20)), strconv.Itoa(1+rng.IntN(34))
	}
	if rng.IntN(4) > 0 {
		n := rng.IntN(5)
		c.RowCount = &n
	}
	if rng.IntN(6) == 0 {
		c.CardOf, c.CardTotal = 1+rng.IntN(2), 2
	}
	if rng.IntN(3) == 0 {
		c.Strips = []rules.Strip{{Panel: "A", Bibs: rng.IntN(4)}, {Panel: "B", Bibs: rng.IntN(3)}}
	}
	if rng.IntN(6) == 0 {
		c.Happened = new(bool)
		*c.Happened = rng.IntN(2) == 0
	}
	if rng.IntN(6) == 0 {
		c.Passed = []sheetmodel.Bib{{Number: "7"}, {Number: "9"}, {Group: "girls", Number: "208"}}
	}
	f.Cards = append(f.Cards, c)
	if !c.In {
		return
	}
	for i := range rng.IntN(6) {
		f.Rows = append(f.Rows, randomRow(rng, sheetmodel.RowRef{CardKey: key, Row: i + 1}))
	}
}

func randomRow(rng *rand.Rand, ref sheetmodel.RowRef) rules.Row {
	gate := 1 + rng.IntN(6) + (ref.Card-1)*7 // mostly the card's own
	return rules.Row{
		Ref: ref, Bib: pick(rng, "7", "8", "9", "12", "14", "07", "13", "22", "31", "74", "208", "V1", ""),
		Group: pick(rng, "", "", "", "girls"),
		BibState: pick(rng, sheetmodel.BibTwoLooks, sheetmodel.BibTwoLooks, sheetmodel.BibTwoLooks, sheetmodel.BibOneLook,
			sheetmodel.BibWaiting, sheetmodel.BibSetAside),
		Code:  pick(rng, "F", "F", "F", "L", "L", "M", "X", "H", "O", "N", "U", "Y", "", "Q"),
		Gate:  pick(rng, strconv.Itoa(gate), strconv.Itoa(gate), fmt.Sprintf("%d-%d", gate, gate+1), "7", "", "99", "12a"),
		Panel: pick(rng, "A", "B", ""), CodeSure: rng.IntN(8) > 0, GateSure: rng.IntN(8) > 0, PanelSure: rng.IntN(8) > 0,
		Drawn: rng.IntN(4) > 0, Rerun: rng.IntN(8) == 0, Struck: rng.IntN(10) == 0,
	}
}

func pick[T any](rng *rand.Rand, from ...T) T { return from[rng.IntN(len(from))] }

// answerSome answers about half of all open questions with one of their answers.
func answerSome(rng *rand.Rand, f *rules.Facts) {
	for _, finding := range rules.Check(*f).Findings {
		if q := finding.Question; q != nil && rng.IntN(2) == 0 {
			f.Answers[q.Key] = q.Answers[rng.IntN(len(q.Answers))].Value
		}
	}
}

// shuffled returns the same facts in another order.
func shuffled(rng *rand.Rand, f rules.Facts) rules.Facts {
	race := *f.Race
	race.Starters = append([]sheetmodel.Starter{}, race.Starters...)
	f.Race = &race
	f.Cards = append([]rules.Card{}, f.Cards...)
	f.Rows = append([]rules.Row{}, f.Rows...)
	rng.Shuffle(len(f.Cards), func(i, j int) { f.Cards[i], f.Cards[j] = f.Cards[j], f.Cards[i] })
	rng.Shuffle(len(f.Rows), func(i, j int) { f.Rows[i], f.Rows[j] = f.Rows[j], f.Rows[i] })
	rng.Shuffle(len(race.Starters), func(i, j int) {
		race.Starters[i], race.Starters[j] = race.Starters[j], race.Starters[i]
	})
	return f
}
