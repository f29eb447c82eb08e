package rules_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

var (
	roundsWanted = flag.Int("rounds", rounds, "random race days for each property")
	roundsSeed   = flag.Uint64("rounds-seed", 0, "seed of the first of those days")
)

func everyDay(t *testing.T, holds func(t *testing.T, rng *rand.Rand, f rules.Facts)) {
	t.Helper()
	for seed := *roundsSeed; seed < *roundsSeed+uint64(*roundsWanted); seed++ {
		rng := rand.New(rand.NewPCG(seed, 1))
		f := randomFacts(rng)
		answerSome(rng, &f)
		ok := t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) { holds(t, rng, f) })
		if !ok {
			return
		}
	}
}

func TestCheck_AnyOrder_SameResult(t *testing.T) {
	everyDay(t, func(t *testing.T, rng *rand.Rand, f rules.Facts) {
		want, got := rules.Check(f), rules.Check(shuffled(rng, f))
		require.Equal(t, show(want, "", true), show(got, "", true)) // the readable difference first
		require.True(t, assert.ObjectsAreEqual(want, got))
	})
}

func TestCheck_EveryRow_HasOneStanding(t *testing.T) {
	everyDay(t, func(t *testing.T, _ *rand.Rand, f rules.Facts) {
		r := rules.Check(f)
		count := map[sheetmodel.RowRef]int{}
		for _, s := range r.Standings {
			count[s.Ref]++
			require.Contains(t, []sheetmodel.Standing{
				sheetmodel.StandsCall, sheetmodel.StandsWaiting, sheetmodel.StandsInform, sheetmodel.StandsSetAside,
			}, s.Standing)
			require.NotEmpty(t, s.Why)
			if s.Standing != sheetmodel.StandsWaiting {
				require.Zero(t, s.NeedsLooks, "only a waiting row needs looks: %v", s)
			}
		}
		require.Len(t, count, len(f.Rows))
		for ref, n := range count {
			require.Equal(t, 1, n, ref)
		}
	})
}

// A call stands only on rows of certain bibs, codes and gates; no setting and no answer changes that.
func TestCheck_DoubtfulBib_NoCall(t *testing.T) {
	everyDay(t, func(t *testing.T, _ *rand.Rand, f rules.Facts) {
		rows := rowsByRef(f)
		r := rules.Check(f)
		for _, c := range r.Calls {
			require.NotEmpty(t, c.Rows)
			for _, ref := range append(slices.Clone(c.Rows), c.Further...) {
				w := rows[ref]
				require.False(t, w.Struck && !rules.SaidToStand(f.Answers, ref), ref)
				require.True(t, w.CodeSure && w.GateSure, ref)
				require.Contains(t, []sheetmodel.BibState{sheetmodel.BibOneLook, sheetmodel.BibTwoLooks}, w.BibState, ref)
			}
			if c.Waiting {
				require.NotEmpty(t, c.WaitsFor)
				continue
			}
			for _, ref := range c.Rows {
				require.Equal(t, sheetmodel.BibTwoLooks, rows[ref].BibState, ref)
				if c.Overruled {
					require.Equal(t, sheetmodel.StandsInform, standingOf(r, ref).Standing, ref)
					continue
				}
				require.Equal(t, sheetmodel.StandsCall, standingOf(r, ref).Standing, ref)
			}
		}
	})
}

// Making all bibs doubtful leaves no call at all, and no finding names any of their bibs.
func TestCheck_AllBibsDoubtful_NothingNamed(t *testing.T) {
	everyDay(t, func(t *testing.T, _ *rand.Rand, f rules.Facts) {
		const ink = "4711" // a text that nothing else contains
		for i := range f.Rows {
			f.Rows[i].BibState, f.Rows[i].Bib = sheetmodel.BibWaiting, ink
			// What else isn't settled is not told either.
			f.Rows[i].GateSure, f.Rows[i].Gate = false, ink
			if i%2 == 0 {
				f.Rows[i].CodeSure, f.Rows[i].Code = false, ink
				f.Rows[i].PanelSure, f.Rows[i].Panel = false, ink
			}
		}
		r := rules.Check(f)
		require.Empty(t, r.Calls)
		text, err := json.Marshal(r)
		require.NoError(t, err)
		require.NotContains(t, string(text), ink)
	})
}

// What is shown to whoever types a bib unseen tells nothing of it, be it certain, doubtful or in a line with others.
func TestHiding_RowToType_IsNotTold(t *testing.T) {
	everyDay(t, func(t *testing.T, rng *rand.Rand, f rules.Facts) {
		if len(f.Rows) == 0 {
			return
		}
		const ink = "4711"
		f.Race.Starters = append(f.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: ink}, Course: "Blue"})
		w := &f.Rows[rng.IntN(len(f.Rows))]
		w.Bib, w.BibState = ink, pick(rng, sheetmodel.BibOneLook, sheetmodel.BibWaiting)
		r := rules.Check(f).Hiding([]sheetmodel.RowRef{w.Ref})
		text, err := json.Marshal(r)
		require.NoError(t, err)
		require.NotContains(t, string(text), ink)
		require.Len(t, r.Standings, len(f.Rows))
	})
}

// A row that stands as a call carries a call that stands; a call that waits has no row that stands for it.
func TestCheck_CallsAndStandings_Agree(t *testing.T) {
	everyDay(t, func(t *testing.T, _ *rand.Rand, f rules.Facts) {
		r := rules.Check(f)
		carried := map[sheetmodel.RowRef]bool{}
		for _, c := range r.Calls {
			for _, ref := range append(slices.Clone(c.Rows), c.Further...) {
				carried[ref] = true
			}
		}
		for _, s := range r.Standings {
			if s.Standing == sheetmodel.StandsCall {
				require.True(t, carried[s.Ref], "%v stands as a call, but no call rests on it", s.Ref)
			}
		}
		for _, c := range r.Calls {
			if c.Waiting {
				require.Equal(t, sheetmodel.StandsWaiting, standingOf(r, c.Rows[0]).Standing, c)
			}
		}
		// One line for each racer in a run.
		lines := map[string]int{}
		for _, c := range r.Calls {
			lines[fmt.Sprint(c.Run, c.Group, c.Bib)]++
		}
		for who, n := range lines {
			require.Equal(t, 1, n, who)
		}
	})
}

// Adding a card may turn a call into a waiting one, or set its rows aside, but never without saying why.
func TestCheck_OneMoreCard_NoCallGoesSilently(t *testing.T) {
	everyDay(t, func(t *testing.T, rng *rand.Rand, f rules.Facts) {
		before := rules.Check(f)
		more := f
		more.Cards, more.Rows = slices.Clone(f.Cards), slices.Clone(f.Rows)
		addRandomCard(rng, &more, sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 9})
		after := rules.Check(more)
		for _, c := range before.Calls {
			if c.Waiting {
				continue
			}
			at := slices.IndexFunc(after.Calls, func(n sheetmodel.Call) bool {
				return n.Run == c.Run && n.Course == c.Course && n.Group == c.Group && n.Bib == c.Bib
			})
			if at >= 0 && (!after.Calls[at].Waiting || len(after.Calls[at].WaitsFor) > 0) {
				continue
			}
			for _, ref := range c.Rows {
				assert.True(t, slices.ContainsFunc(after.Findings, func(n sheetmodel.Finding) bool {
					return slices.Contains(n.Rows, ref) && n.Severity != sheetmodel.Informs
				}), "seed's call %v is gone, and no finding names %v", c, ref)
			}
		}
	})
}

// More looks never take a call away: certainty only adds.
func TestCheck_OneMoreLook_NoCallGoesSilently(t *testing.T) {
	everyDay(t, func(t *testing.T, rng *rand.Rand, f rules.Facts) {
		before := rules.Check(f)
		more := f
		more.Rows = slices.Clone(f.Rows)
		for i := range more.Rows {
			if more.Rows[i].BibState == sheetmodel.BibOneLook && rng.IntN(2) == 0 {
				more.Rows[i].BibState = sheetmodel.BibTwoLooks
			}
		}
		after := rules.Check(more)
		for _, c := range before.Calls {
			if c.Waiting {
				continue
			}
			require.True(t, slices.ContainsFunc(after.Calls, func(n sheetmodel.Call) bool {
				return n.Run == c.Run && n.Group == c.Group && n.Bib == c.Bib
			}) || slices.ContainsFunc(after.Findings, func(n sheetmodel.Finding) bool {
				return slices.Contains(n.Rows, c.Rows[0]) && n.Severity != sheetmodel.Informs
			}), "%v", c)
		}
	})
}

func TestCheck_Input_IsNotModified(t *testing.T) {
	everyDay(t, func(t *testing.T, _ *rand.Rand, f rules.Facts) {
		before, err := json.Marshal(f)
		require.NoError(t, err)
		rules.Check(f)
		after, err := json.Marshal(f)
		require.NoError(t, err)
		require.JSONEq(t, string(before), string(after))
	})
}

// Every open question has its own key, and each of its answers closes it.
func TestCheck_Answers_CloseTheirQuestions(t *testing.T) {
	everyDay(t, func(t *testing.T, rng *rand.Rand, f rules.Facts) {
		asked := map[string]bool{}
		for _, finding := range rules.Check(f).Findings {
			q := finding.Question
			if q == nil {
				continue
			}
			require.False(t, asked[q.Key], "two questions with the key %s", q.Key)
			asked[q.Key] = true
			require.NotEmpty(t, q.Answers)
			answered := f
			answered.Answers = map[string]string{q.Key: pick(rng, q.Answers...).Value}
			for k, v := range f.Answers {
				answered.Answers[k] = v
			}
			for _, again := range rules.Check(answered).Findings {
				require.False(t, again.Question != nil && again.Question.Key == q.Key, "%s stays open", q.Key)
			}
		}
	})
}

// An answer that no question offers changes nothing.
func TestCheck_UnknownAnswer_ChangesNothing(t *testing.T) {
	everyDay(t, func(t *testing.T, _ *rand.Rand, f rules.Facts) {
		f.Answers = map[string]string{}
		before := rules.Check(f)
		for _, finding := range before.Findings {
			if finding.Question != nil {
				f.Answers[finding.Question.Key] = "perhaps"
			}
		}
		require.True(t, assert.ObjectsAreEqual(before, rules.Check(f)))
	})
}

func TestCheck_NoFacts_NothingToSay(t *testing.T) {
	r := rules.Check(rules.Facts{})
	assert.Empty(t, r.Findings)
	assert.Empty(t, r.Calls)
	assert.Empty(t, r.Standings)
	assert.Empty(t, r.Incomplete)
}

func rowsByRef(f rules.Facts) map[sheetmodel.RowRef]rules.Row {
	rows := map[sheetmodel.RowRef]rules.Row{}
	for _, w := range f.Rows {
		rows[w.Ref] = w
	}
	return rows
}

func standingOf(r rules.Result, ref sheetmodel.RowRef) rules.RowStanding {
	for _, s := range r.Standings {
		if s.Ref == ref {
			return s
		}
	}
	return rules.RowStanding{}
}

// FuzzCheck looks for texts that make Check panic or lose a row.
func FuzzCheck(f *testing.F) {
	f.Add(uint64(1), "14", "F", "7-9", "1-34", "out-from")
	f.Add(uint64(2), "007", "M", "9-7,12a", "", "never-counts")
	f.Add(uint64(3), "", "", "-", "a,b,-", "")
	f.Add(uint64(4), "V1", "L", "0-999999999999999999999", "1,1,1", "out-at-once")
	f.Fuzz(func(t *testing.T, seed uint64, bib, code, gate, gates, lost string) {
		rng := rand.New(rand.NewPCG(seed, 2))
		facts := randomFacts(rng)
		facts.Race.Runs[0].Courses[0].Gates = nil
		if gates != "" && len(gates) < 40 {
			facts.Race.Runs[0].Courses[0].Gates = []string{gates, gate, bib}
		}
		facts.Race.Rules.LostSki = sheetmodel.LostSki(lost)
		for i := range facts.Rows {
			switch rng.IntN(4) {
			case 0:
				facts.Rows[i].Bib, facts.Rows[i].Gate = bib, gate
			case 1:
				facts.Rows[i].Code = code
			}
		}
		r := rules.Check(facts)
		require.Len(t, r.Standings, len(facts.Rows))
		for _, c := range r.Calls {
			require.NotEmpty(t, c.Rows)
		}
	})
}

// In which order a race lists its runs and courses is no evidence either.
func TestCheck_RunsAndCoursesInAnyOrder_SameResult(t *testing.T) {
	everyDay(t, func(t *testing.T, _ *rand.Rand, f rules.Facts) {
		want := rules.Check(f)
		race := *f.Race
		race.Runs = slices.Clone(race.Runs)
		slices.Reverse(race.Runs)
		for i := range race.Runs {
			race.Runs[i].Courses = slices.Clone(race.Runs[i].Courses)
			slices.Reverse(race.Runs[i].Courses)
		}
		f.Race = &race
		require.Equal(t, show(want, "", true), show(rules.Check(f), "", true))
	})
}

// A row from a card that nobody spoke of was read from a card that is in.
func TestCheck_RowWithoutItsCard_ComesFromACardThatIsIn(t *testing.T) {
	race := inventedRace()
	key := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
	row := rules.Row{Ref: sheetmodel.RowRef{CardKey: key, Row: 1}, Bib: "14", BibState: sheetmodel.BibTwoLooks, Code: "F", Gate: "5", Panel: "A", Drawn: true, CodeSure: true, GateSure: true, PanelSure: true}
	for _, cards := range [][]rules.Card{nil, {{Key: key}}} {
		r := rules.Check(rules.Facts{Race: &race, Cards: cards, Rows: []rules.Row{row}})
		require.Len(t, r.Calls, 1)
		missing := 0
		for _, f := range r.Findings {
			if f.Rule == "missing-card" {
				require.NotEqual(t, 1, f.Card.Card)
				missing++
			}
		}
		require.Equal(t, 4, missing, "B to E are placed and nobody spoke of them")
	}
}
