package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// A line is seen through a row, and the number at the card's foot would leave it out. It doesn't settle what the line is where somebody
// has typed the row, from the paper or at an earlier photo, nor where no reader makes a text of another row's bib: that may be grain, or
// struck out itself. Then a person is asked. Source: our own logic, after design, section 4 (rows that stand).
func TestStruckRow_TheFootAloneSettlesNoRowThatWasTyped(t *testing.T) {
	type way struct {
		before func(*table)
		other  string // the bib of the row beside it, as it is read
		asked  bool
	}
	for name, c := range map[string]way{
		"nobody typed it":             {before: func(*table) {}, other: "15", asked: false},
		"typed from the paper":        {before: func(b *table) { b.paper(2); b.said("Ada", key21, "14", 0, false) }, other: "15", asked: true},
		"the judge named it":          {before: func(b *table) { b.paper(2); b.said("Ada", key21, "14", 0, true) }, other: "15", asked: true},
		"another row can't be read":   {before: func(*table) {}, other: "", asked: true},
		"somebody has typed that one": {before: func(b *table) { b.paper(2); b.said("Ada", key22, "15", 0, false) }, other: "", asked: false},
	} {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			c.before(b)
			n := b.front(2, "14", c.other)
			n.Read.Reading.Rows[0].Struck = true
			if c.other == "" {
				n.Read.Reading.Rows[1].Bib.State, n.Read.Reading.Rows[1].Bib.Doubts = sheetmodel.Doubtful, []sheetmodel.Doubt{{Kind: sheetmodel.DoubtNotInGrammar, Detail: "for this test"}}
			}
			n.Read.Reading.Header = []sheetmodel.Reading{{Field: "foot.row-count", Side: sheetmodel.Front, Text: "1", State: sheetmodel.Clear}}
			b.add(n)
			_, result := b.load()
			require.Len(t, result.Standings, 2)
			assert.Equal(t, c.asked, result.Standings[0].Why == rules.MayBeStruck, result.Standings[0].Why)
			assert.Equal(t, map[bool]sheetmodel.Standing{true: sheetmodel.StandsWaiting, false: sheetmodel.StandsInform}[c.asked], result.Standings[0].Standing)
		})
	}
}

var (
	key21 = store.Key(rowRef(2, 1).CardKey, sheetmodel.Front, "row-01.bib")
	key22 = store.Key(rowRef(2, 2).CardKey, sheetmodel.Front, "row-02.bib")
)
