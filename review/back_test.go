package review_test

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// onePlace is a race with one place, of which nothing else is open.
func onePlace(t *testing.T) *stacktest.Table {
	b := stacktest.New(t)
	none := sheetmodel.BibList{Given: sheetmodel.ListNone}
	b.Race.Courses = []string{"Blue"}
	b.Race.Runs = []sheetmodel.Run{{Number: 1, DidNotStart: none, DidNotEnd: none, Reruns: none, Courses: []sheetmodel.CourseRun{{
		Course: "Blue", Gates: []string{"1", "2"}, Places: []sheetmodel.Place{{Card: 1, Name: "B1", Gates: []string{"1", "2"}, Judge: "Ida Fernsicht"}},
	}}}}
	return b
}

// fronts keeps a photo of the front of card 1 alone.
func fronts(t *testing.T, b *stacktest.Table, name string, rows ...stacktest.Row) {
	t.Helper()
	photo, _, err := b.Store.AddPhoto(t.Context(), name, bytes.NewReader([]byte("\xff\xd8\xff "+name)), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "reader of "+name, b.Sheets("Blue", 1, rows...)[:1]))
}

var backFront = regexp.MustCompile(`(?s)action="/back/run1/Blue/card-1".*?name="front" value="(\d+)"`)

// sayOfBack fills one of the forms about the back of card 1.
func sayOfBack(t *testing.T, p *person, do string, more url.Values) answer {
	t.Helper()
	m := backFront.FindStringSubmatch(p.get("/card/run1/Blue/card-1").body)
	require.NotNil(t, m)
	v := url.Values{"do": {do}, "front": {m[1]}}
	for k, all := range more {
		v[k] = all
	}
	return p.send("/back/run1/Blue/card-1", v)
}

// A bib under a drawing may have no row, and only the back shows it: while it isn't in, the list is not complete. A person may say that they
// have seen it, or why it will not come. Source: our own logic, as for cards that are missing.
func TestBack_NotPhotographed_IsAGapUntilSomebodyAnswersForIt(t *testing.T) {
	b := onePlace(t)
	fronts(t, b, "front", stacktest.Row{Bib: "14", Code: "K", Gate: "2"})
	p := sit(t, open(t, b), "Cleo")
	const gap = "Card 1 (B1, gates 1-2): its back is not in."
	assert.Contains(t, p.get("/").body, "1 back not in")
	assert.NotContains(t, p.get("/").body, "Nothing is open")
	page := p.get("/draft").body
	assert.Contains(t, page, gap)
	assert.Regexp(t, `Backs that are not in</h3><ul[^>]*><li><a href="/card/run1/Blue/card-1">Card 1</a>, place B1, Ida Fernsicht`, page)
	list := p.get("/draft/draft.json").body
	assert.Regexp(t, `(?s)"incomplete": \[\s*"`+regexp.QuoteMeta(gap), list)
	assert.Regexp(t, `(?s)"missing_backs": \[\s*\{\s*"card": 1`, list)
	assert.Contains(t, p.get("/draft/draft.csv").body, "missing back")
	assert.Equal(t, http.StatusOK, p.get("/posting").status, "it blocks nothing")

	require.Equal(t, http.StatusOK, sayOfBack(t, p, "seen", nil).status, "a card with a row, too")
	assert.Contains(t, p.get("/").body, "back seen by Cleo, no fault drawn")
	assert.Contains(t, p.get("/").body, "Nothing is open")
	assert.NotContains(t, p.get("/draft").body, "its back is not in")

	// Another photo of the front, and it is asked anew.
	fronts(t, b, "front again", stacktest.Row{Bib: "14", Code: "K", Gate: "2"})
	assert.Contains(t, p.get("/draft").body, gap)
	assert.Contains(t, p.get("/").body, "Cleo answered for it before the front was photographed again")

	assert.Equal(t, http.StatusUnprocessableEntity, sayOfBack(t, p, "close", nil).status, "no reason")
	assert.Contains(t, p.get("/draft").body, gap)
	require.Equal(t, http.StatusOK, sayOfBack(t, p, "close", url.Values{"why": {"gone"}, "reason": {"in the snow"}}).status)
	assert.NotContains(t, p.get("/draft/draft.json").body, `"incomplete": [`+"\n        \""+gap)
	assert.Contains(t, p.get("/draft").body, "the card is lost, and only its front was photographed: in the snow")
	assert.Contains(t, p.get("/").body, "back not coming")
	assert.NotContains(t, p.get("/").body, "back not in")
	require.Equal(t, http.StatusOK, sayOfBack(t, p, "missing", nil).status)
	assert.Contains(t, p.get("/draft").body, gap)

	// Its photo settles it.
	photo, _, err := b.Store.AddPhoto(t.Context(), "back", strings.NewReader("\xff\xd8\xff back"), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "reader of backs", b.Sheets("Blue", 1)[1:]))
	assert.NotContains(t, p.get("/draft").body, "its back is not in")
	assert.NotContains(t, p.get("/").body, "back not in")
}

// Backs that were seen are confirmed in a block, with the rows of their cards or without; what a row contradicts isn't offered, nor taken.
func TestBack_InABlock(t *testing.T) {
	b := onePlace(t)
	fronts(t, b, "front", stacktest.Row{Bib: "14", Code: "K", Gate: "2"})
	p := sit(t, open(t, b), "Cleo")
	body := p.get("/").body
	assert.Regexp(t, `(?s)Backs that are not in.*name="back" value="run1/Blue/card-1">.*Ida Fernsicht`, body)
	assert.NotRegexp(t, `name="back"[^>]*checked`, body, "nothing is marked beforehand")
	front := regexp.MustCompile(`name="front-run1/Blue/card-1" value="(\d+)"`).FindStringSubmatch(body)
	require.NotNil(t, front)
	form := url.Values{"back": {"run1/Blue/card-1"}, "front-run1/Blue/card-1": {front[1]}}
	a := p.send("/empties", form)
	assert.Contains(t, a.body, "1 back seen, no fault drawn")
	assert.Contains(t, a.body, "Nothing is open")
	assert.NotContains(t, a.body, "Backs that are not in")

	fronts(t, b, "front again", stacktest.Row{Bib: "14", Code: "F", Gate: "2", Panel: "B"})
	assert.Equal(t, http.StatusConflict, p.send("/empties", form).status, "of another photo")
	body = p.get("/").body
	assert.Contains(t, body, "1 back not in")
	assert.NotContains(t, body, `name="back" value="run1/Blue/card-1"`, "its row names a drawing")
	st, _ := b.Load()
	form.Set("front-run1/Blue/card-1", fmt.Sprint(st.Cards[0].Front.ID))
	assert.Equal(t, http.StatusConflict, p.send("/empties", form).status)
	assert.Contains(t, p.get("/").body, "1 back not in")
}

// A row that names a drawing says that there is one: nobody closes that with having seen none, neither now nor by what they said before the
// row was there.
func TestBack_ARowNamesADrawing_SeeingNoneClosesNothing(t *testing.T) {
	b := onePlace(t)
	fronts(t, b, "front", stacktest.Row{Bib: "14", Code: "F", Gate: "2", Panel: "B"})
	p := sit(t, open(t, b), "Cleo")
	a := sayOfBack(t, p, "seen", nil)
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, "Row 1 names a drawing, or may")
	assert.Contains(t, p.get("/draft").body, "its back is not in.")
	require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: "back-seen/run1/Blue/card-1", Value: "no-fault-drawn", By: "Ada"}))
	assert.Contains(t, p.get("/draft").body, "its back is not in. No fault is drawn there, a person says, and row 1 names a drawing, or may.")
	assert.NotContains(t, p.get("/").body, "back seen by")
	before := p.get("/questions").body
	require.Equal(t, http.StatusOK, sayOfBack(t, p, "close", url.Values{"reason": {"torn off"}}).status)
	assert.NotContains(t, p.get("/draft").body, "its back is not in. No")
	assert.Equal(t, strings.Contains(before, "Is there a drawing?"), strings.Contains(p.get("/questions").body, "Is there a drawing?"), "the row's question stays")
}

// What has no back to photograph, or is known to lack it otherwise, is no second gap.
func TestBack_NoneToPhotograph_IsNoGap(t *testing.T) {
	t.Run("missing", func(t *testing.T) {
		p := sit(t, open(t, onePlace(t)), "Cleo")
		assert.NotContains(t, p.get("/draft").body, "its back is not in")
	})
	t.Run("typed from paper", func(t *testing.T) {
		b := onePlace(t)
		p := sit(t, open(t, b), "Cleo")
		require.Equal(t, http.StatusOK, p.send("/paper/run1/Blue/card-1", url.Values{"rows": {"0"}}).status)
		assert.Contains(t, p.get("/").body, "typed from paper")
		assert.NotContains(t, p.get("/draft").body, "its back is not in")
	})
	t.Run("closed as lost", func(t *testing.T) {
		b := onePlace(t)
		p := sit(t, open(t, b), "Cleo")
		require.Equal(t, http.StatusOK, p.send("/gap/run1/Blue/card-1", url.Values{"do": {"close"}, "why": {"lost"}}).status)
		assert.NotContains(t, p.get("/draft").body, "its back is not in")
		assert.Contains(t, p.get("/").body, "Nothing is open")
	})
	for name, oneSided := range map[string]bool{"a form of one side": true, "a form of two": false} {
		t.Run(name, func(t *testing.T) {
			b := onePlace(t)
			sheets := b.Sheets("Blue", 1)[:1]
			sheets[0].Read.Plain = &store.PlainCard{OneSided: oneSided}
			photo, _, err := b.Store.AddPhoto(t.Context(), "plain", strings.NewReader("\xff\xd8\xff plain"), -1, time.Time{})
			require.NoError(t, err)
			require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "reader", sheets))
			p := sit(t, open(t, b), "Cleo")
			assert.Equal(t, !oneSided, strings.Contains(p.get("/draft").body, "its back is not in"))
		})
	}
}
