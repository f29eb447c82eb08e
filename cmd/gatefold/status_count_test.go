package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// Two lost skis, of which one is typed: whether the other reads as the same bib or as another, every number is the same.
// Source: our own logic.
func TestStatus_AfterOneLostSkiIsTyped_NoNumberTellsWhatTheOtherSays(t *testing.T) {
	var all []statusReport
	for _, other := range []string{"40", "12"} {
		b := stacktest.New(t)
		b.Card("Blue", 2, stacktest.Row{Bib: other, Code: "K", Gate: "9"})
		b.Card("Blue", 3, stacktest.Row{Bib: "40", Code: "K", Gate: "16", State: sheetmodel.Doubtful})
		b.Type("Ada", stacktest.Key("Blue", 3, 1, sheetmodel.PartBib), "40")
		st, result := b.Load()
		r, err := statusOf(st, result, time.Date(2027, 1, 23, 11, 0, 0, 0, time.UTC))
		require.NoError(t, err)
		assert.Equal(t, 1, r.Waiting)
		all = append(all, r)
		if other == "40" {
			asks := false
			for _, f := range result.Findings {
				asks = asks || f.Rule == "lost-ski" && f.Question != nil
			}
			assert.True(t, asks, "the rules know that both are one racer's: not a test otherwise")
		}
	}
	assert.Equal(t, all[0], all[1])
}
