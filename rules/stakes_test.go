package rules_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// However a waiting row is settled, it adds and holds back no more proposals than was said of it.
// Expected values: our own logic.
func TestCheck_Stakes_BoundWhatSettlingARowDoes(t *testing.T) {
	added, held := 0, 0
	everyDay(t, func(t *testing.T, rng *rand.Rand, f rules.Facts) {
		before := rules.Check(f)
		for _, s := range before.Standings {
			if s.Standing != sheetmodel.StandsWaiting {
				require.Zero(t, s.CanAdd+s.CanHold, "%v does not wait", s)
				continue
			}
			for range 6 {
				settled := settledAs(rng, before, f, s.Ref)
				add, hold := moved(before, rules.Check(settled))
				require.LessOrEqual(t, add, s.CanAdd, "%v", s)
				require.LessOrEqual(t, hold, s.CanHold, "%v", s)
				added, held = added+add, held+hold
			}
		}
	})
	assert.Positive(t, added, "no row ever added a proposal: the days are too dull")
	assert.Positive(t, held, "no row ever held one back: the days are too dull")
}

// settledAs returns the facts with one row settled in some way, every other time on a racer who is proposed.
func settledAs(rng *rand.Rand, before rules.Result, f rules.Facts, ref sheetmodel.RowRef) rules.Facts {
	f.Rows = slices.Clone(f.Rows)
	w := &f.Rows[slices.IndexFunc(f.Rows, func(w rules.Row) bool { return w.Ref == ref })]
	w.Bib, w.BibState = strconv.Itoa(1+rng.IntN(60)), sheetmodel.BibTwoLooks
	if n := len(before.Calls); n > 0 && rng.IntN(2) == 0 {
		w.Bib = before.Calls[rng.IntN(n)].Bib
	}
	w.CodeSure, w.GateSure = true, true
	if rng.IntN(2) == 0 {
		w.Code = pick(rng, "F", "L", "M", "X", "H", "U", "N")
	}
	return f
}

// moved counts the proposals that stand only after, and those that stood only before.
func moved(before, after rules.Result) (added, held int) {
	standing := func(r rules.Result) map[string]bool {
		all := map[string]bool{}
		for _, c := range r.Calls {
			if !c.Waiting && !c.Overruled {
				all[fmt.Sprint(c.Run, c.Course, "/", c.Group, "/", c.Bib)] = true
			}
		}
		return all
	}
	was, is := standing(before), standing(after)
	for who := range is {
		if !was[who] {
			added++
		}
	}
	for who := range was {
		if !is[who] {
			held++
		}
	}
	return added, held
}
