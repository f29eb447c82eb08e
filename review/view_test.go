package review_test

import (
	"bytes"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

const elsewhereKey = "gate-in-section/1/Blue/1/1/25"

var elsewhereForm = regexp.MustCompile(`name="question" value="` + elsewhereKey + `"><input type="hidden" name="view" value="([^"]+)"`)

// elsewhere is a card on which a row names a gate that its judge doesn't watch.
func elsewhere(t *testing.T) *stacktest.Table {
	t.Helper()
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "25"}, stacktest.Row{Bib: "9", Code: "F", Gate: "3"})
	return b
}

func photographsAgain(t *testing.T, b *stacktest.Table, name string) {
	t.Helper()
	p, _, err := b.Store.AddPhoto(t.Context(), name, bytes.NewReader([]byte("\xff\xd8\xff "+name)), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), p.ID, "test reader", b.Sheets("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "25"}, stacktest.Row{Bib: "9", Code: "F", Gate: "3"})))
}

// answersFrom answers the question from a page of Questions.
func answersFrom(t *testing.T, p *person, page answer) answer {
	t.Helper()
	form := elsewhereForm.FindStringSubmatch(page.body)
	require.NotNil(t, form, page.body)
	return p.send("/questions", url.Values{"question": {elsewhereKey}, "answer": {"counts"}, "note": {"the judge"}, "view": {form[1]}})
}

// A row is asked about and answered, and its card photographed again: the page asks once more, says what was answered, by whom and what has
// changed, and lists it as answered no more. The answer stays in the log. Source: our own logic.
func TestView_PhotographedAgain_IsAskedAnew(t *testing.T) {
	b := elsewhere(t)
	b.Type("Bo", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	p := sit(t, open(t, b), "Cleo")
	require.Equal(t, http.StatusOK, answersFrom(t, p, p.get("/questions")).status)
	page := p.get("/questions")
	assert.NotRegexp(t, elsewhereForm, page.body)
	assert.Contains(t, page.body, "<h2>Answered</h2>")

	photographsAgain(t, b, "again")
	page = p.get("/questions")
	assert.Regexp(t, elsewhereForm, page.body)
	assert.Contains(t, page.body, "It was answered before, said by Cleo: yes: the row counts as written. Since then another photo of card 1 (B1) counts, so it is asked anew.")
	assert.NotContains(t, page.body, "<h2>Answered</h2>")
	all, err := b.Store.Answers(t.Context())
	require.NoError(t, err)
	require.Len(t, all, 1)
	assert.NotEmpty(t, all[0].View)
	st, result := b.Load()
	assert.Equal(t, "counts", st.Answers[elsewhereKey])
	require.Len(t, result.Calls, 2)

	require.Equal(t, http.StatusOK, answersFrom(t, p, page).status)
	assert.NotRegexp(t, elsewhereForm, p.get("/questions").body)
}

// While the page is open, another photo comes in, the gates of the card are bound otherwise, or the bib reads otherwise: what is said of
// what the page shows isn't kept. What bears on nothing that it shows, such as a look at a bib, is in nobody's way. Source: our own logic.
func TestView_ChangedWhileThePageWasOpen(t *testing.T) {
	for name, then := range map[string]struct {
		do  func(t *testing.T, b *stacktest.Table)
		why string // empty: it is kept
	}{
		"another photo": {func(t *testing.T, b *stacktest.Table) { photographsAgain(t, b, "again") }, "another photo of the card counts"},
		"other gates": {func(t *testing.T, b *stacktest.Table) {
			require.NoError(t, b.Store.Bind(t.Context(), store.Binding{
				Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, Run: 1, Course: "Blue", Gates: []string{"1", "2"}, Source: "header", By: "Bo",
			}))
		}, "the card watches other gates"},
		"a look at another bib": {func(_ *testing.T, b *stacktest.Table) {
			b.Type("Bo", stacktest.Key("Blue", 1, 2, sheetmodel.PartBib), "9")
		}, ""},
		"another card": {func(_ *testing.T, b *stacktest.Table) {
			b.Card("Blue", 2, stacktest.Row{Bib: "30", Code: "F", Gate: "8"})
		}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			b := elsewhere(t)
			b.Type("Bo", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
			p := sit(t, open(t, b), "Cleo")
			page := p.get("/questions")
			then.do(t, b)
			late := answersFrom(t, p, page)
			st, _ := b.Load()
			if then.why == "" {
				assert.Equal(t, http.StatusOK, late.status, late.body)
				assert.Equal(t, "counts", st.Answers[elsewhereKey])
				return
			}
			assert.Equal(t, http.StatusConflict, late.status)
			assert.Contains(t, late.body, "Nothing was kept: "+then.why+".")
			assert.Empty(t, st.Answers)
		})
	}
}

// A page of a desk that was there before, or one that names no page, is looked at again. Source: our own logic.
func TestView_PageOfAnEarlierDesk(t *testing.T) {
	b := elsewhere(t)
	b.Type("Bo", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	p := sit(t, open(t, b), "Cleo")
	page := p.get("/questions")
	form := elsewhereForm.FindStringSubmatch(page.body)
	require.NotNil(t, form)
	for _, view := range []string{"", "earlier-1", "x" + form[1], form[1] + "000"} {
		late := p.send("/questions", url.Values{"question": {elsewhereKey}, "answer": {"counts"}, "note": {"the judge"}, "view": {view}})
		assert.Equal(t, http.StatusConflict, late.status, view)
		assert.Contains(t, late.body, "This page is from before", view)
	}
	require.Equal(t, http.StatusOK, answersFrom(t, p, page).status)
}

// A row was marked by hand as struck out, and its card is photographed again: whether it is struck out is asked of that photo, and the row
// waits meanwhile. Said not to be, it isn't marked any more, and is a row like any other. Source: our own logic.
func TestView_RowMarkedAsStruck_IsAskedAboutOnAnotherPhoto(t *testing.T) {
	for _, value := range []string{"struck", "stands"} {
		b := elsewhere(t)
		p := sit(t, open(t, b), "Cleo")
		st, _ := b.Load()
		front := st.Cards[0].Front.ID
		key := "struck-row/1/Blue/1/2"
		require.Equal(t, http.StatusOK, p.send("/strike/run1/Blue/card-1", url.Values{"row": {"2"}, "do": {"on"}, "note": {"the judge"}, "front": {strconv.FormatInt(front, 10)}}).status)
		assert.NotContains(t, p.get("/questions").body, `name="question" value="`+key+`"><input type="hidden" name="view"`)
		photographsAgain(t, b, "again")
		assert.Contains(t, p.get("/questions").body, `name="question" value="`+key+`"><input type="hidden" name="view"`)
		_, result := b.Load()
		assert.True(t, waits(result.Standings, ref(1, 2)))
		require.Equal(t, http.StatusOK, p.send("/questions", url.Values{"question": {key}, "answer": {value}, "note": {"the judge"}}).status)
		page := p.get("/questions")
		assert.NotContains(t, page.body, `name="question" value="`+key+`"><input type="hidden" name="view"`)
		st, _ = b.Load()
		row := st.Row(ref(1, 2))
		assert.Equal(t, value == "struck", row.Struck, value)
		assert.Equal(t, value == "struck", st.Answers[stack.StruckKey(ref(1, 2).CardKey, 2)] == stack.Marked, value)
	}
}
