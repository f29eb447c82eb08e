package rules_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// What hides is what rests on the hidden row, and nothing else: the row's call, a call it is further evidence
// of, findings on it, and why the draft waits for it.
// Expected values: our own logic.
func TestHiding(t *testing.T) {
	const day = `
		race lost-ski=from-2
		row A/1 bib=14 gate=5
		row B/1 bib=19 gate=9
		row D/1 bib=19 gate=27
		row C/1 bib=40 gate=16 looks=one
		row C/2 bib=41 gate=17 looks=one
		card E missing`
	whole := rules.Check(parse(t, day))
	require.Len(t, whole.Calls, 4)
	at := func(card, row int) sheetmodel.RowRef {
		return sheetmodel.RowRef{CardKey: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card}, Row: row}
	}
	bibs := func(r rules.Result) (all []string) {
		for _, c := range r.Calls {
			all = append(all, c.Bib)
		}
		return all
	}
	tests := map[string]struct {
		hide []sheetmodel.RowRef
		want []string
	}{
		"nothing":            {nil, []string{"14", "19", "40", "41"}},
		"a row of a call":    {[]sheetmodel.RowRef{at(1, 1)}, []string{"19", "40", "41"}},
		"the leading row":    {[]sheetmodel.RowRef{at(2, 1)}, []string{"14", "40", "41"}},
		"further evidence":   {[]sheetmodel.RowRef{at(4, 1)}, []string{"14", "40", "41"}},
		"one waiting of two": {[]sheetmodel.RowRef{at(3, 1)}, []string{"14", "19", "41"}},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			got := whole.Hiding(tt.hide)
			assert.Equal(t, tt.want, bibs(got))
			assert.Len(t, got.Standings, len(whole.Standings))
			assert.Len(t, got.Incomplete, len(whole.Incomplete), "a gap is told in other words, never left out")
			hidden := map[sheetmodel.RowRef]bool{}
			for _, ref := range tt.hide {
				hidden[ref] = true
			}
			kept := 0
			for _, f := range whole.Findings {
				rests := false
				for _, ref := range f.Rows {
					rests = rests || hidden[ref]
				}
				if rests {
					assert.NotContains(t, got.Findings, f)
				} else {
					assert.Contains(t, got.Findings, f)
					kept++
				}
			}
			assert.Len(t, got.Findings, kept)
			for i, g := range got.Incomplete {
				if name == "one waiting of two" && whole.Incomplete[i].Why[:len("Card 3 (C) row 1")] == "Card 3 (C) row 1" {
					assert.Equal(t, "a row needs a look at its bib.", g.Why)
					continue
				}
				assert.Equal(t, whole.Incomplete[i].Why, g.Why)
			}
		})
	}
}
