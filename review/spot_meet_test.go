package review_test

import (
	"net/url"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Two people do the spot check at once: each gets a bib of their own, and whoever finds all of them taken is not shown the draft instead,
// which would tell them what they were to type unseen. Source: our own logic; decisions/0005.
func TestSpotCheck_TwoPeopleMeet_NobodyIsLedToTheDraft(t *testing.T) {
	b := withLine(t)
	b.Race.SpotCheck = 1
	s := open(t, b)
	bo, cy, di := sit(t, s, "Bo"), sit(t, s, "Cy"), sit(t, s, "Di")
	first, second := bo.get("/spot"), cy.get("/spot")
	require.Contains(t, first.path, "/entry/")
	require.Contains(t, second.path, "/entry/")
	assert.NotEqual(t, first.path, second.path)
	third := di.get("/spot")
	assert.Equal(t, "/", third.path)
	assert.Contains(t, third.body, "Somebody else is at what is left of the spot check just now.")
	assert.Equal(t, "/", di.get(first.path).path, "nor by the entry's own address")
	assert.Contains(t, di.get("/").body, "lot has drawn 2 bibs that you can type unseen", "Di was told nothing")
}

// Whoever mistypes a bib of the spot check takes it back, and puts it back, without being shown the draft: the next bib of the lot is typed
// unseen all the same. Source: our own logic; decisions/0005.
func TestSpotCheck_TakenBack_LeadsOnNotToTheDraft(t *testing.T) {
	b := withLine(t)
	b.Race.SpotCheck = 1
	bo := sit(t, open(t, b), "Bo")
	// The second row first, which no line names.
	bo.filled(bo.get("/spot"), url.Values{"text": {""}, "do": {"later"}, "spot": {"1"}})
	page := bo.get("/spot")
	require.Contains(t, page.path, "row-02")
	bo.filled(page, url.Values{"text": {"9"}, "how": {"paper"}, "do": {"settle"}, "spot": {"1"}})
	id := decisionsOf(t, b, "Bo")[0].ID
	page = bo.send("/undo", url.Values{"decision": {strconv.FormatInt(id, 10)}})
	assert.NotEqual(t, "/draft", page.path)
	assert.Contains(t, page.body, "Taken back; it stays in the log.")
	assert.NotContains(t, page.body, "The spot check is done")
	page = bo.send("/redo", url.Values{})
	assert.NotEqual(t, "/draft", page.path)
	assert.Contains(t, page.body, "Put back as it was")
	assert.Contains(t, bo.get("/").body, "lot has drawn 1 bib that you can type unseen", "the line's")
}
