package review_test

import (
	"net/http"
	"net/url"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Three rows were counted on the paper, the photo shows two: the page asks, with the photo, and is content once somebody has looked.
func TestQuestions_FewerRowsThanCounted_AreAskedAndAnswered(t *testing.T) {
	b := stacktest.New(t)
	require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, Rows: 3, By: "Ada"}))
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"}, stacktest.Row{Bib: "9", Code: "F", Gate: "3"})
	p := sit(t, open(t, b), "Cleo")
	const words = "3 rows with ink were counted on the paper of card 1 before it was photographed, and 2 are known now."
	a := p.get("/questions")
	require.Contains(t, a.body, words)
	assert.Contains(t, a.body, "yes, looked at the paper: no row is missing")
	assert.Contains(t, p.get("/draft").body, words, "the list is open")
	key := regexp.MustCompile(`name="question" value="(rows-counted/[^"]+)"`).FindStringSubmatch(a.body)
	require.NotNil(t, key)
	sent := p.send("/questions", url.Values{"question": {key[1]}, "answer": {"seen"}, "note": {"Ida, its judge"}})
	require.Equal(t, http.StatusOK, sent.status, sent.body)
	assert.NotContains(t, p.get("/draft").body, words)
}
