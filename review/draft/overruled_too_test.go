package draft_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/draft"
	"gatefold/review/jury"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// The jury overruled a line that no row makes any more, and its word went for the racer's other fault too: packet and explanation are
// there all the same. Source: our own logic.
func TestPacket_OverruledTogetherWithALineThatIsGone(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	b.Card("Blue", 3, stacktest.Row{Bib: "14", Code: "F", Gate: "15", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	b.Type("Ada", stacktest.Key("Blue", 3, 1, sheetmodel.PartBib), "14")
	at := blue14(t, b)
	say(t, b, at, jury.Decision{Verdict: jury.Overruled, At: noon, Present: []string{"referee"}, Gate: "6", Code: "F"})
	b.SetAside("Bo", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "its judge takes it back")
	_, before := b.Load()
	answered := false
	for _, f := range before.Findings {
		if f.Question != nil && strings.HasPrefix(f.Question.Key, "jury/") {
			require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: f.Question.Key, Value: "too", By: "Ada"}))
			answered = true
		}
	}
	require.True(t, answered)
	c := packet(t, b, "14").Cases[0]
	assert.Equal(t, "overruled", c.Status)
	say(t, b, at, jury.Coach{Allowed: true})
	s, r := b.Load()
	k, err := draft.NewCoach(s, r, draft.Options{At: noon}, at)
	require.NoError(t, err)
	assert.Equal(t, "Overruled by the jury.", k.Cautions()[0])
	parts := make1(t, b, draft.Options{}).Explain(s.Race, "14", "").Parts
	require.NotEmpty(t, parts)
	assert.Contains(t, parts[0].Answer, "the jury overruled the proposal (gate 15, F, gate missed or straddled)")
}
