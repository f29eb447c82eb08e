package review_test

import (
	"net/http"
	"net/url"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// twoWritten is a card whose foot is read as 2 rows, with one row on it.
func twoWritten(t testing.TB) *stacktest.Table {
	t.Helper()
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "9", Code: "F", Gate: "3", Panel: "B"})
	readAgain(t, b, func(_ sheetmodel.CardKey, r *sheetmodel.Row) { r.HasInk = r.Number == 1 })
	return b
}

func headForm(t testing.TB, a answer) url.Values {
	t.Helper()
	form := regexp.MustCompile(`action="/head"[^>]*><input type="hidden" name="question" value="([^"]+)"><input type="hidden" name="sheet" value="(\d+)">`).FindStringSubmatch(a.body)
	require.NotNil(t, form, a.body)
	return url.Values{"question": {form[1]}, "sheet": {form[2]}}
}

func TestQuestions_AReading_IsSaidAsReadAndCanBeTypedInstead(t *testing.T) {
	b := twoWritten(t)
	p := sit(t, open(t, b), "Cleo")
	page := p.get("/questions")
	assert.Contains(t, page.body, "is read as 2 rows, the card has 1")
	assert.Contains(t, page.body, "/foot", "the ink is shown beside it")
	form := headForm(t, page)
	assert.Equal(t, http.StatusUnprocessableEntity, p.send("/head", form).status)

	// Another number than the card has: the question stays, with what was typed.
	form.Set("row-count", "3")
	page = p.send("/head", form)
	assert.Contains(t, page.body, "is read as 3 rows, the card has 1")
	assert.Contains(t, page.body, "The question stays")

	form = headForm(t, page)
	form.Set("row-count", "1")
	page = p.send("/head", form)
	assert.NotContains(t, page.body, "is read as")
	s, _ := b.Load()
	require.Len(t, s.Decisions, 2, "both stay in the log")
	assert.False(t, s.Decisions[1].Blind, "it was typed beside what was read, so it is no look")

	id := regexp.MustCompile(`name="decision" value="(\d+)"`).FindStringSubmatch(page.body)
	require.NotNil(t, id)
	assert.Contains(t, p.send("/undo", url.Values{"decision": {id[1]}}).body, "is read as 3 rows")
	assert.Equal(t, http.StatusConflict, p.send("/head", url.Values{"question": {"row-count/none"}, "sheet": {"1"}}).status)
}
