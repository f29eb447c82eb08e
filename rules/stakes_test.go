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
			if rng.IntN(3) > 0 {
				continue
			}
			settled := f
			settled.Rows = slices.Clone(f.Rows)
			at := slices.IndexFunc(settled.Rows, func(w rules.Row) bool { return w.Ref == s.Ref })
			w := &settled.Rows[at]
			w.Bib, w.BibState = strconv.Itoa(1+rng.IntN(60)), sheetmodel.BibTwoLooks
			w.CodeSure, w.GateSure = true, true
			if rng.IntN(2) == 0 {
				w.Code = pick(rng, "F", "L", "M", "X", "H", "U", "N")
			}
			add, hold := moved(before, rules.Check(settled))
			require.LessOrEqual(t, add, s.CanAdd, "%v, settled as %s %s at %s", s, w.Bib, w.Code, w.Gate)
			require.LessOrEqual(t, hold, s.CanHold, "%v, settled as %s %s at %s", s, w.Bib, w.Code, w.Gate)
			added, held = added+add, held+hold
		}
	})
	assert.Positive(t, added, "no row ever added a proposal: the days are too dull")
	assert.Positive(t, held, "no row ever held one back: the days are too dull")
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
