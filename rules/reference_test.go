package rules_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// A second, naive telling of two rules, written from their help and not from their code: what lost skis
// propose, and which gates and cards are missing. It is slow and knows whole rows of two looks only.
//
//	go test ./rules -run Reference -days 100000 -days-seed 7

var (
	days     = flag.Int("days", daysUsual, "random race days on which the rules are held against their naive telling")
	daysSeed = flag.Uint64("days-seed", 1, "seed of those days")
)

// loss is what the reference says of one racer: nothing, a question, or a call at a gate.
type loss struct {
	asked bool
	gate  int
}

// tale is one lost ski as one judge wrote it.
type tale struct {
	card, gate int
	both       bool // "second time, I saw both"
}

// referenceLostSkis says what the tales of one racer propose. from 0: never; atOnce: out with the first,
// unless at the last gate; else out with loss number from. told is how many losses a person has counted, 0: nobody.
func referenceLostSkis(tales []tale, from int, atOnce bool, lastGate, told int) *loss {
	if len(tales) == 0 || from == 0 {
		return nil
	}
	// What stands at one gate is one loss, whoever wrote it.
	at := func(list []tale) (gates []int, both map[int]bool) {
		both = map[int]bool{}
		for _, t := range list {
			if !slices.Contains(gates, t.gate) {
				gates = append(gates, t.gate)
			}
			both[t.gate] = both[t.gate] || t.both
		}
		slices.Sort(gates)
		return gates, both
	}
	if atOnce {
		gates, _ := at(tales)
		if gates[0] < lastGate {
			return &loss{gate: gates[0]}
		}
		return nil
	}
	reached := func(list []tale, from int) (gate, total int) {
		gates, both := at(list)
		for _, g := range gates {
			total++
			if both[g] && total < 2 {
				total = 2
			}
			if total >= from && gate == 0 {
				gate = g
			}
		}
		return gate, total
	}
	for card := 1; card <= 9; card++ { // one judge alone saw enough
		var own []tale
		for _, t := range tales {
			if t.card == card {
				own = append(own, t)
			}
		}
		if gate, _ := reached(own, from); gate > 0 {
			return &loss{gate: gate}
		}
	}
	gate, total := reached(tales, from)
	switch {
	case gate == 0:
		return nil
	case told == 0:
		return &loss{asked: true, gate: gate}
	case told < from:
		return nil
	}
	// As many tales as are too many may be of a ski that was seen before: all of them may be the first.
	gate, _ = reached(tales, from+total-told)
	return &loss{gate: gate}
}

func TestReference_LostSkis_AgreeOnRandomDays(t *testing.T) {
	said := map[string]int{}
	for day := range *days {
		rng := rand.New(rand.NewPCG(*daysSeed, uint64(day)))
		f := rules.Facts{Answers: map[string]string{}}
		race := inventedRace()
		race.Runs[0].DidNotStart, race.Runs[0].DidNotEnd = listOf("none"), listOf("none")
		race.Rules.LostSki = pick(rng, sheetmodel.LostSkiNever, sheetmodel.LostSkiOut, sheetmodel.LostSkiFrom, sheetmodel.LostSkiFrom, sheetmodel.LostSkiFrom)
		race.Rules.LostSkiFrom = 1 + rng.IntN(4)
		f.Race = &race
		from := map[sheetmodel.LostSki]int{sheetmodel.LostSkiOut: 1, sheetmodel.LostSkiFrom: race.Rules.LostSkiFrom}[race.Rules.LostSki]
		tales := map[string][]tale{}
		for i := range 1 + rng.IntN(7) {
			card := 1 + rng.IntN(5)
			gates := race.Run(1).Course("Blue").Places[card-1].Gates
			gate, _ := strconv.Atoi(gates[rng.IntN(len(gates))])
			if rng.IntN(6) == 0 {
				gate, _ = strconv.Atoi(gates[len(gates)-1])
			}
			bib, both := pick(rng, "7", "9"), rng.IntN(4) == 0
			tales[bib] = append(tales[bib], tale{card, gate, both})
			f.Rows = append(f.Rows, rules.Row{
				Ref: sheetmodel.RowRef{CardKey: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card}, Row: i + 1}, Bib: bib, BibState: sheetmodel.BibTwoLooks,
				Code: map[bool]string{true: "M", false: "L"}[both], Gate: strconv.Itoa(gate), CodeSure: true, GateSure: true, PanelSure: true,
			})
		}
		told := map[string]int{}
		for _, q := range rules.Check(f).Findings {
			if q.Rule == "lost-ski" && q.Question != nil && rng.IntN(2) == 0 {
				value := q.Question.Answers[rng.IntN(len(q.Question.Answers))].Value
				f.Answers[q.Question.Key] = value
				told[q.Bib], _ = strconv.Atoi(value)
			}
		}
		got := rules.Check(f)
		for _, bib := range []string{"7", "9"} {
			want := referenceLostSkis(tales[bib], from, race.Rules.LostSki == sheetmodel.LostSkiOut, 34, told[bib])
			where := fmt.Sprintf("day %d, bib %s, %s from %d, told %d: %v", day, bib, race.Rules.LostSki, from, told[bib], tales[bib])
			at := slices.IndexFunc(got.Calls, func(c sheetmodel.Call) bool { return c.Bib == bib })
			if want == nil {
				require.Negative(t, at, where)
				said["nothing"]++
				continue
			}
			require.GreaterOrEqual(t, at, 0, where)
			require.Equal(t, strconv.Itoa(want.gate), got.Calls[at].Gate, where)
			require.Equal(t, want.asked, got.Calls[at].Waiting, where)
			said[map[bool]string{true: "asked", false: "call"}[want.asked]]++
		}
	}
	for _, what := range []string{"nothing", "asked", "call"} {
		require.Positive(t, said[what], "the days are too dull: %v", said)
	}
	t.Logf("%d days from seed %d: %v", *days, *daysSeed, said)
}

var gateNumber = regexp.MustCompile(`[0-9]+(-[0-9]+)?`)

// gatesSaid are the gates that a sentence names before its colon.
func gatesSaid(sentence string) (all []int) {
	before, _, _ := strings.Cut(sentence, ":")
	for _, part := range gateNumber.FindAllString(before, -1) {
		from, to, isRange := strings.Cut(part, "-")
		a, _ := strconv.Atoi(from)
		b := a
		if isRange {
			b, _ = strconv.Atoi(to)
		}
		for g := a; g <= b; g++ {
			all = append(all, g)
		}
	}
	return all
}

func TestReference_Coverage_AgreesOnRandomDays(t *testing.T) {
	holes, twice, gone := 0, 0, 0
	for day := range *days {
		rng := rand.New(rand.NewPCG(*daysSeed, uint64(day)+1<<40))
		race := inventedRace()
		race.Runs[0].DidNotStart, race.Runs[0].DidNotEnd = listOf("none"), listOf("none")
		n := 5 + rng.IntN(30)
		course := race.Run(1).Course("Blue")
		course.Gates, course.Places = labels(fmt.Sprintf("1-%d", n)), nil
		f := rules.Facts{Race: &race}
		watch := map[int][]int{} // gates by card
		var missing []int
		for card := 1; card <= 1+rng.IntN(6); card++ {
			p := sheetmodel.Place{Card: card}
			first := 1 + rng.IntN(n)
			for g := first; g <= min(n, first+rng.IntN(8)); g++ {
				if rng.IntN(8) > 0 || g == first { // sections may have holes
					p.Gates, watch[card] = append(p.Gates, strconv.Itoa(g)), append(watch[card], g)
				}
			}
			course.Places = append(course.Places, p)
			c := rules.Card{Key: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card}, In: rng.IntN(3) > 0, RowCount: new(int)}
			if !c.In {
				missing = append(missing, card)
				if rng.IntN(4) == 0 {
					continue // nobody has spoken of it
				}
			}
			f.Cards = append(f.Cards, c)
		}
		var open []int
		shared := map[int]bool{}
		for g := 1; g <= n; g++ {
			var cards []int
			for card := 1; card <= len(course.Places); card++ {
				if slices.Contains(watch[card], g) {
					cards = append(cards, card)
				}
			}
			if len(cards) == 0 {
				open = append(open, g)
			}
			inside := func(a, b []int) bool {
				return !slices.ContainsFunc(a, func(g int) bool { return !slices.Contains(b, g) })
			}
			for _, other := range cards {
				a, b := watch[cards[0]], watch[other]
				if !inside(a, b) && !inside(b, a) {
					shared[g] = true // two sections meet here; one inside the other is one place
				}
			}
		}
		var gotOpen, gotGone []int
		gotShared := map[int]bool{}
		for _, finding := range rules.Check(f).Findings {
			switch finding.Rule {
			case "uncovered-gate":
				gotOpen = append(gotOpen, gatesSaid(finding.Sentence)...)
			case "missing-card":
				gotGone = append(gotGone, finding.Card.Card)
			case "overlap":
				before, _, _ := strings.Cut(finding.Sentence, " watched")
				for _, g := range gatesSaid(before) {
					gotShared[g] = true
				}
			}
		}
		where := fmt.Sprintf("day %d: %d gates, %v", day, n, watch)
		slices.Sort(gotOpen)
		require.Equal(t, open, gotOpen, where)
		require.Equal(t, missing, gotGone, where)
		require.Equal(t, shared, gotShared, where)
		holes, twice, gone = holes+len(open), twice+len(shared), gone+len(missing)
	}
	require.Positive(t, holes*twice*gone, "the days are too dull")
	t.Logf("%d days from seed %d: %d open gates, %d shared ones, %d missing cards", *days, *daysSeed, holes, twice, gone)
}
