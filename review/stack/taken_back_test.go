package stack_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/jury"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// A line of run 1 that the jury upheld and that was taken back in public after that keeps its racer from run 2 no more, as Posting says
// to the start: what a judge of run 2 writes of that racer is a row like any other. A line that was made public once more, or was
// withdrawn before the jury decided, or another line, changes nothing. Source: our own logic, after rules.Run2Needs.
func TestFacts_UpheldAndTakenBackSince_KeepsNobodyFromRun2(t *testing.T) {
	at := func(minutes int) time.Time { return time.Date(2027, 1, 23, 12, minutes, 0, 0, time.UTC) }
	posted := jury.Posting{At: at(0), Gate: "6", Code: "F"}
	upheld := jury.Decision{Verdict: jury.Upheld, At: at(30).Add(20 * time.Second), Gate: "6", Code: "F", Present: []string{"referee"}}
	withdrawn := func(minutes int, gate string) jury.Posting {
		return jury.Posting{At: at(minutes), Gate: gate, Code: "F", Withdrawn: true, Why: "for this test"}
	}
	for name, c := range map[string]struct {
		said []any
		out  bool
	}{
		"upheld":                        {[]any{posted, upheld}, true},
		"taken back since":              {[]any{posted, upheld, withdrawn(40, "6")}, false},
		"taken back in that minute":     {[]any{posted, upheld, withdrawn(30, "6")}, false},
		"taken back before":             {[]any{posted, withdrawn(20, "6"), upheld}, true},
		"another line was":              {[]any{posted, upheld, withdrawn(40, "9")}, true},
		"and made public once more":     {[]any{posted, upheld, withdrawn(40, "6"), posted}, true},
		"and upheld once more after it": {[]any{posted, withdrawn(20, "6"), posted, upheld}, true},
	} {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			b.race.Run(2).Course("Blue").Gates = b.race.Run(1).Course("Blue").Gates
			for _, what := range c.said {
				b.answer(jury.Key(jury.Line{Run: 1, Course: "Blue", Group: "girls", Bib: "14"}, what), jury.Value(what))
			}
			s, _ := b.load()
			facts := s.Facts()
			ref := sheetmodel.RowRef{CardKey: sheetmodel.CardKey{Run: 2, Course: "Blue", Card: 2}, Row: 1}
			facts.Cards = append(facts.Cards, rules.Card{Key: ref.CardKey, In: true, Gates: []string{"6"}})
			facts.Rows = append(facts.Rows, rules.Row{
				Ref: ref, Bib: "14", BibState: sheetmodel.BibTwoLooks, Code: "F", CodeSure: true, Gate: "6", GateSure: true, PanelSure: true,
			})
			result := rules.Check(facts)
			require.Len(t, result.Standings, 1)
			if c.out {
				assert.Equal(t, sheetmodel.StandsSetAside, result.Standings[0].Standing)
				assert.Contains(t, result.Standings[0].Why, "upheld by the jury")
				return
			}
			assert.Equal(t, sheetmodel.StandsCall, result.Standings[0].Standing, result.Standings[0].Why)
		})
	}
}
