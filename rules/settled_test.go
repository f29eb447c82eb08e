package rules_test

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// What has fewer than two looks shapes nothing that is proposed. Whatever such rows say, and whether they
// are there at all, the proposals are those of the settled rows alone; a question may hold one back, which
// then waits and says for what.
func TestCheck_RowsShortOfLooks_ShapeNoProposal(t *testing.T) {
	held, kept := 0, 0
	everyDay(t, func(t *testing.T, rng *rand.Rand, f rules.Facts) {
		f = crowded(rng, f)
		alone := f
		alone.Rows = settledRows(f)
		alone.Answers = map[string]string{}
		answerSome(rng, &alone)
		dropIdle(alone)
		f.Answers = alone.Answers // the same person said the same: other answers are other facts
		want := rules.Check(alone)
		for range 4 {
			f.Rows = otherwise(rng, f.Rows)
			h, k := sameProposals(t, want, rules.Check(f))
			held, kept = held+h, kept+k
		}
	})
	assert.Positive(t, held, "no proposal was ever held back: the days are too dull")
	assert.Positive(t, kept, "no proposal was ever kept: the days are too dull")
}

// A row short of a look is never lost: it stands somewhere, and if it may belong to what is proposed of
// its racer, it is named beside it or waits.
func TestCheck_RowsShortOfLooks_AreNamed(t *testing.T) {
	everyDay(t, func(t *testing.T, rng *rand.Rand, f rules.Facts) {
		f = crowded(rng, f)
		r := rules.Check(f)
		rows := rowsByRef(f)
		for _, s := range r.Standings {
			w := rows[s.Ref]
			code, known := f.Race.Codes.Find(w.Code)
			if w.BibState != sheetmodel.BibOneLook || w.Struck || !known || code.Effect != sheetmodel.EffectPropose || !w.CodeSure {
				continue
			}
			require.NotEqual(t, sheetmodel.StandsCall, s.Standing, "%v", s)
			if s.Standing == sheetmodel.StandsWaiting {
				require.True(t, slices.ContainsFunc(r.Incomplete, func(g rules.Gap) bool {
					return g.Run == s.Ref.Run && g.Course == s.Ref.Course
				}), "%v waits, and its run is complete", s)
			}
		}
	})
}

// dropIdle drops answers to questions that, with the other answers, nobody asks. On another day they
// would be a person's answer to another row.
func dropIdle(f rules.Facts) {
	for _, key := range slices.Sorted(maps.Keys(f.Answers)) {
		value := f.Answers[key]
		delete(f.Answers, key)
		asked := slices.ContainsFunc(rules.Check(f).Findings, func(n sheetmodel.Finding) bool {
			return n.Question != nil && n.Question.Key == key
		})
		if asked {
			f.Answers[key] = value
		}
	}
}

// settledRows returns the rows that have their two looks.
func settledRows(f rules.Facts) []rules.Row {
	return slices.DeleteFunc(slices.Clone(f.Rows), func(w rules.Row) bool { return w.BibState != sheetmodel.BibTwoLooks })
}

// crowded returns a day on which few racers meet at few gates, in written ranges, and much has one look.
func crowded(rng *rand.Rand, f rules.Facts) rules.Facts {
	f.Rows = slices.Clone(f.Rows)
	for i := range f.Rows {
		w := &f.Rows[i]
		w.Bib = pick(rng, "7", "9", "12", "14")
		w.BibState = pick(rng, sheetmodel.BibTwoLooks, sheetmodel.BibTwoLooks, sheetmodel.BibOneLook)
		w.CodeSure, w.GateSure = rng.IntN(12) > 0, rng.IntN(12) > 0
		w.Code = pick(rng, "F", "F", "F", "L", "L", "M", "O", "X", "H")
		w.Struck = false
		if first := (w.Ref.Card-1)*7 + 1; rng.IntN(3) == 0 && w.Ref.Run > 0 {
			w.Gate = fmt.Sprintf("%d-%d", first+rng.IntN(3), first+3+rng.IntN(3))
		}
	}
	return f
}

// otherwise returns the rows with those short of a look changed in any field, or left out.
func otherwise(rng *rand.Rand, rows []rules.Row) []rules.Row {
	var changed []rules.Row
	for _, w := range rows {
		if w.BibState == sheetmodel.BibTwoLooks {
			changed = append(changed, w)
			continue
		}
		if rng.IntN(8) == 0 {
			continue
		}
		if rng.IntN(2) == 0 {
			w.Bib = pick(rng, "7", "9", "12", "14", "22", "13", "")
		}
		if rng.IntN(2) == 0 {
			from := 1 + rng.IntN(34)
			w.Gate = pick(rng, strconv.Itoa(from), fmt.Sprintf("%d-%d", from, from+rng.IntN(12)), "1-34", "")
		}
		if rng.IntN(2) == 0 {
			w.Code = pick(rng, "F", "L", "M", "O", "X", "H", "N", "Q")
		}
		w.Rerun = rng.IntN(6) == 0
		w.BibState = pick(rng, sheetmodel.BibOneLook, sheetmodel.BibOneLook, sheetmodel.BibOneLook, sheetmodel.BibWaiting, sheetmodel.BibSetAside)
		changed = append(changed, w)
	}
	return changed
}

// sameProposals fails unless got proposes what want does, at the same gates for the same codes on the
// same rows, or lets it wait. It counts what was held back and what was kept.
func sameProposals(t *testing.T, want, got rules.Result) (held, kept int) {
	t.Helper()
	who := func(c sheetmodel.Call) string { return fmt.Sprint(c.Run, c.Course, c.Group, "/", c.Bib, c.Overruled) }
	what := func(c sheetmodel.Call) string { return fmt.Sprint(c.Gate, c.Code, c.Basis, refs(c.Rows)) }
	wanted, found := map[string]sheetmodel.Call{}, map[string]sheetmodel.Call{}
	for _, c := range want.Calls {
		if !c.Waiting {
			wanted[who(c)] = c
		}
	}
	for _, c := range got.Calls {
		found[who(c)] = c
		if w, ok := wanted[who(c)]; !c.Waiting {
			require.True(t, ok, "%s is proposed only with rows that are not settled: %s\n%s\n%s", who(c), what(c), show(want, "", true), show(got, "", true))
			require.Equal(t, what(w), what(c), who(c))
		}
	}
	for id, w := range wanted {
		c, ok := found[id]
		if !ok && askedOfTheJury(want, got, w) {
			held++
			continue
		}
		require.True(t, ok, "%s is no longer there: %s\n%s\n%s", id, what(w), show(want, "", true), show(got, "", true))
		if c.Waiting {
			require.NotEmpty(t, c.WaitsFor, id)
			held++
		} else {
			kept++
		}
	}
	return held, kept
}

// askedOfTheJury reports whether a call is gone only for a question: the jury overruled a line of its racer, and with a row that isn't
// settled in view it is asked anew whether it decided on this fault too. Until then that makes no line of its own: it lies beside the
// overruled one, and each of its rows waits.
func askedOfTheJury(want, got rules.Result, gone sheetmodel.Call) bool {
	overruled := func(r rules.Result) bool {
		return slices.ContainsFunc(r.Calls, func(c sheetmodel.Call) bool {
			return c.Overruled && c.Run == gone.Run && c.Course == gone.Course && c.Group == gone.Group && c.Bib == gone.Bib
		})
	}
	return overruled(want) && overruled(got) && !slices.ContainsFunc(gone.Rows, func(ref sheetmodel.RowRef) bool {
		return standingOf(got, ref).Standing != sheetmodel.StandsWaiting || !slices.ContainsFunc(got.Findings, func(n sheetmodel.Finding) bool {
			return n.Rule == "jury" && n.Question != nil && slices.Contains(n.Rows, ref)
		})
	})
}
