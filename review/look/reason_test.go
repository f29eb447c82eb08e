package look

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// Why ink that nobody but the judge settles is asked of the judge is said to people who may still type it unseen. The words are true
// without a rival too, as in a free cell, where nothing is proven by one writing; and they are the same whether the machine sees a rival,
// and whether whoever typed first read what the machine read: otherwise the next one would know before they look. Source: our own logic.
func TestCount_WhyTheJudgeIsAsked_TellsNothingOfWhatWasRead(t *testing.T) {
	at := time.Date(2027, 1, 23, 9, 0, 0, 0, time.UTC)
	typed := func(text string) []sheetmodel.Decision {
		return []sheetmodel.Decision{{Text: text, By: "Cleo", Blind: true, Basis: sheetmodel.BasisOnPaper, At: at}}
	}
	for name, rivals := range map[string][]sheetmodel.Rival{"no rival": nil, "a rival": {{Text: "40", Prob: 0.2}}} {
		for who, said := range map[string][]sheetmodel.Decision{"nobody": nil, "agrees": typed("46"), "differs": typed("40")} {
			for _, g := range []sheetmodel.Grammar{sheetmodel.GrammarBib, sheetmodel.GrammarGate, sheetmodel.GrammarCode} {
				s := Count(Ink{Pictured: true, Grammar: g, Reading: sheetmodel.Reading{Text: "46", State: sheetmodel.Doubtful, Rivals: rivals}}, "reader", said)
				assert.Equal(t, NeedJudge, s.Next, "%s, %s", name, who)
				assert.Equal(t, "what is written is not certain enough for one person's word", s.Reason, "%s, %s", name, who)
			}
		}
	}
}
