package review_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/draft"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// A racer left the course, and a person has said that a row further down counts all the same. Another row is still to be typed unseen, and if
// it is that racer's the question comes anew. The draft can't say that of the line, or it would tell what stands in the row: whatever that is,
// the page says of all its lines that none is final, and says so no more once the row is typed. Source: our own logic.
func TestDraft_RowToTypeMayTakeALineBack_ThePageCallsNoLineFinal(t *testing.T) {
	var before []string
	for _, second := range []string{"14", "46"} {
		b := stacktest.New(t)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "P", Gate: "3"})
		b.Card("Blue", 2, stacktest.Row{Bib: "14", Code: "F", Gate: "9", Panel: "B"}, stacktest.Row{Bib: second, Code: "F", Gate: "12", Panel: "B"})
		b.Type("Ada", stacktest.Key("Blue", 2, 1, sheetmodel.PartBib), "14")
		require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: "left-course/1/Blue/girls 14/3/9", Value: "counts", By: "Ada"}))
		p := sit(t, open(t, b), "Cleo")
		page := p.get("/draft").body
		assert.Contains(t, page, draft.NotFinal)
		before = append(before, shownOf(t, p))
		b.Type("Ben", stacktest.Key("Blue", 2, 2, sheetmodel.PartBib), second)
		assert.NotContains(t, p.get("/draft").body, draft.NotFinal)
		after := shownOf(t, p)
		if second == "14" {
			assert.Equal(t, "waiting", after, "it is asked anew")
		} else {
			assert.Equal(t, "14 at gate 9, 46 at gate 12", after)
		}
	}
	assert.Equal(t, []string{"14 at gate 9", "14 at gate 9"}, before)
}

// shownOf is what the desk's list proposes on the first course.
func shownOf(t *testing.T, p *person) string {
	t.Helper()
	var list draft.Draft
	require.NoError(t, json.Unmarshal([]byte(p.get("/draft/draft.json").body), &list))
	words := ""
	for _, l := range list.Sections[0].Proposed {
		if words != "" {
			words += ", "
		}
		words += l.Bib + " at gate " + l.Gate
	}
	if words == "" && len(list.Sections[0].Waiting) > 0 {
		return "waiting"
	}
	return words
}
