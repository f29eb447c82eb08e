package rules_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// A row with a line through it is only recorded on a person's word, or where the number at its card's
// foot is that of the rows without one, all of them can be read, and nobody has typed what the row says. In all other cases it keeps the draft open.
func TestCheck_StruckRow_GoesOnlyByTheFootOrAPerson(t *testing.T) {
	byFoot, byPerson, asked := 0, 0, 0
	everyDay(t, func(t *testing.T, rng *rand.Rand, f rules.Facts) {
		for i := range f.Rows {
			f.Rows[i].Entered, f.Rows[i].Unread = rng.IntN(3) == 0, rng.IntN(20) == 0
		}
		r := rules.Check(f)
		for _, w := range f.Rows {
			if !w.Struck || rules.SaidToStand(f.Answers, w.Ref) || w.BibState == sheetmodel.BibSetAside {
				continue
			}
			key := fmt.Sprintf("struck-row/%d/%s/%d/%d", w.Ref.Run, w.Ref.Course, w.Ref.Card, w.Ref.Row)
			switch s := standingOf(r, w.Ref); s.Standing {
			case sheetmodel.StandsWaiting:
				asked++
				require.Equal(t, rules.MayBeStruck, s.Why)
				require.True(t, slices.ContainsFunc(r.Incomplete, func(g rules.Gap) bool {
					return g.Run == w.Ref.Run && g.Course == w.Ref.Course
				}), w.Ref)
			case sheetmodel.StandsInform:
				if f.Answers[key] == "struck" {
					byPerson++
					continue
				}
				byFoot++
				require.False(t, w.Entered, w.Ref)
				stand := 0
				for _, o := range f.Rows {
					if o.Ref.CardKey == w.Ref.CardKey && (!o.Struck || rules.SaidToStand(f.Answers, o.Ref)) {
						stand++
						require.False(t, o.Unread || o.Unsure, o.Ref)
					}
				}
				require.True(t, slices.ContainsFunc(f.Cards, func(c rules.Card) bool {
					return c.Key == w.Ref.CardKey && c.RowCount != nil && *c.RowCount == stand
				}), w.Ref)
			case sheetmodel.StandsCall, sheetmodel.StandsSetAside:
				require.Fail(t, "a struck row carries nothing", w.Ref)
			}
		}
	})
	for what, n := range map[string]int{"by the foot": byFoot, "by a person": byPerson, "asked": asked} {
		assert.Positive(t, n, "no random day has a row settled so: %s", what)
	}
}
