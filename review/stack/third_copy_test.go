package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// Two copies have a bib otherwise, and in a third one somebody typed it who had typed it in one of the two: in whichever order they are joined, that
// person doesn't outvote the other by having typed it twice. Source: our own logic, after store.Disputes.
func TestJoined_ThirdCopyOfOneOfTheTwo_SettlesNothing(t *testing.T) {
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	for _, first := range []string{"A", "B", "C"} {
		a := stacktest.New(t)
		a.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
		b, c := secondLaptop(t, a), secondLaptop(t, a)
		a.Type("Ada", key, "14")
		b.Type("Bo", key, "74")
		c.Type("Ada", key, "14")
		all := map[string][]*stacktest.Table{"A": {a, b, c}, "B": {b, a, c}, "C": {c, b, a}}[first]
		join(t, all[0], all[1])
		join(t, all[0], all[2])
		st, result := all[0].Load()
		assert.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState, first)
		assert.Empty(t, result.Calls, first)
		all[0].Type("Di", key, "14")
		st, _ = all[0].Load()
		require.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState, "%s: %s", first, st.Rows[0].Reason)
	}
}
