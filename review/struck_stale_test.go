package review_test

import (
	"bytes"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

var paperField = regexp.MustCompile(`name="question" value="` + struckKey + `"><input type="hidden" name="view" value="([^"]*)"`)

// foldedAgain photographs card 2 of a folded stack once more: a line runs through row 1 there too.
func foldedAgain(t *testing.T, b *stacktest.Table) {
	t.Helper()
	sheets := b.Sheets("Blue", 2, stacktest.Row{Bib: "4871", Code: "F", Gate: "9", Panel: "B"}, stacktest.Row{Bib: "30", Code: "F", Gate: "10", Panel: "C"})
	sheets[0].Read.Reading.Rows[0].Struck = true
	p, _, err := b.Store.AddPhoto(t.Context(), "again.jpg", bytes.NewReader([]byte("\xff\xd8\xff once more")), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), p.ID, "test reader", sheets))
}

// Somebody sees on the photo of a card that a line through a row is a fold, and writes down who says so; meanwhile the judge strikes
// the row out, and the card is photographed again. What was seen on the one photo is not said of the other. Source: our own logic.
func TestStruck_PhotographedAgainWhileThePageWasOpen_IsAskedAnew(t *testing.T) {
	b := folded(t)
	p := sit(t, open(t, b), "Cleo")
	says := func(page answer) answer {
		paper := paperField.FindStringSubmatch(page.body)
		require.NotNil(t, paper, page.body)
		return p.send("/questions", url.Values{"question": {struckKey}, "answer": {"stands"}, "note": {"I, from the paper"}, "view": {paper[1]}})
	}
	old := p.get("/questions")
	foldedAgain(t, b)
	late := says(old)
	assert.Equal(t, http.StatusConflict, late.status)
	assert.Contains(t, late.body, "Nothing was kept: another photo of the card counts.")
	st, _ := b.Load()
	assert.Empty(t, st.Answers)

	require.Equal(t, http.StatusOK, says(p.get("/questions")).status)
	st, _ = b.Load()
	assert.Equal(t, "stands", st.Answers[struckKey])
}

// Likewise an answer that was taken back before is not put back on the other photo, nor is a row struck out by hand from a page of it.
func TestStruck_PhotographedAgain_NothingIsPutBackOrMarkedOnTheOtherPhoto(t *testing.T) {
	b := folded(t)
	p := sit(t, open(t, b), "Cleo")
	card := "/card/run1/Blue/card-2"
	front := regexp.MustCompile(`action="/strike/[^"]*" class="one"><input type="hidden" name="front" value="(\d+)"`)
	was := front.FindStringSubmatch(p.get(card).body)
	require.NotNil(t, was)
	strike := url.Values{"row": {"2"}, "do": {"on"}, "note": {"the judge"}, "front": {was[1]}}
	require.Equal(t, http.StatusOK, says(p, "stands").status)
	p.send("/questions", url.Values{"question": {struckKey}, "do": {"again"}})
	foldedAgain(t, b)
	late := p.send("/redo", url.Values{})
	assert.Equal(t, http.StatusConflict, late.status)
	assert.Contains(t, late.body, "photographed again since")
	assert.Equal(t, http.StatusConflict, p.send("/strike/run1/Blue/card-2", strike).status)
	assert.Equal(t, http.StatusConflict, p.send("/bind/run1/Blue/card-2", url.Values{"gates": {"6-12"}, "front": {was[1]}}).status)
	st, _ := b.Load()
	assert.Empty(t, st.Answers)

	strike.Set("front", front.FindStringSubmatch(p.get(card).body)[1])
	require.Equal(t, http.StatusOK, p.send("/strike/run1/Blue/card-2", strike).status)
	st, _ = b.Load()
	assert.Equal(t, stack.Marked, st.Answers[stack.StruckKey(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 2}, 2)])
}

// Two photos of a card are before somebody, who says that the earlier one counts; meanwhile a third has come in that shows what the later
// one does. It was not before them, and is not put aside by that. Source: our own logic.
func TestQuestions_AThirdPhotoCameInWhileThePageWasOpen_IsAskedAnew(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "9", Code: "F", Gate: "3"})
	b.Card("Blue", 1, stacktest.Row{Bib: "30", Code: "F", Gate: "3"})
	p := sit(t, open(t, b), "Cleo")
	form := regexp.MustCompile(`name="question" value="(two-photos[^"]+)"><input type="hidden" name="view" value="([^"]*)"`)
	says := func(page answer) answer {
		of := form.FindStringSubmatch(page.body)
		require.NotNil(t, of, page.body)
		return p.send("/questions", url.Values{"question": {of[1]}, "answer": {"earlier"}, "note": {"I, from the paper"}, "view": {html.UnescapeString(of[2])}})
	}
	old := p.get("/questions")
	photo, _, err := b.Store.AddPhoto(t.Context(), "third.jpg", bytes.NewReader([]byte("\xff\xd8\xff the third")), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "test reader", b.Sheets("Blue", 1, stacktest.Row{Bib: "30", Code: "F", Gate: "3"})))
	assert.Equal(t, http.StatusConflict, says(old).status)
	st, _ := b.Load()
	assert.Empty(t, st.Answers)
	require.Equal(t, http.StatusOK, says(p.get("/questions")).status)
	st, _ = b.Load()
	assert.Equal(t, "9", st.Row(ref(1, 1)).Bib)
}
