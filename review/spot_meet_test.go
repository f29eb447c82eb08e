package review_test

import (
	"net/url"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
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

// Somebody reads a bib of the spot check otherwise, is told that it doesn't fit, and takes it back. That settles nothing: it may have been a slip, or
// they gave in. A line that hung there doesn't stand again until one more person, or the judge, has read it. A slip in what is read as the
// reader has it, taken back, asks nobody. Source: README, "If somebody reads a bib otherwise after two looks had agreed, its row is a
// question again"; our own logic for what was taken back.
func TestSpotCheck_ReadOtherwiseAndTakenBack_StaysAQuestion(t *testing.T) {
	for text, waits := range map[string]bool{"19": true, "14": false, "": true} {
		b := withLine(t)
		b.Race.SpotCheck = 1
		s := open(t, b)
		bo := sit(t, s, "Bo")
		page := bo.get("/spot")
		require.Contains(t, page.path, "row-01")
		do := "settle"
		if text == "" {
			do = "nothing-here"
		}
		bo.filled(page, url.Values{"text": {text}, "how": {"paper"}, "do": {do}, "spot": {"1"}})
		id := decisionsOf(t, b, "Bo")[0].ID
		bo.send("/undo", url.Values{"decision": {strconv.FormatInt(id, 10)}})
		st, result := b.Load()
		assert.Equal(t, waits, st.Rows[0].BibState == sheetmodel.BibWaiting, "%q: %s", text, st.Rows[0].Reason)
		require.Len(t, result.Calls, map[bool]int{true: 0, false: 1}[waits], text)
		if !waits {
			continue
		}
		cy := sit(t, s, "Cy")
		cy.typed(cy.get(bibPage(1, 1)), "14", "paper")
		st, result = b.Load()
		assert.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState, text)
		require.Len(t, result.Calls, 1)
	}
}

// What ends the wait for a bib that was read otherwise and taken back: the judge, or one more person, also once who took it back is forgotten;
// not that person again, and not for longer than the other's entry stands. Source: our own logic; decisions/0005.
func TestSpotCheck_ReadOtherwiseAndTakenBack_WhatEndsIt(t *testing.T) {
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	for name, end := range map[string]struct {
		do     func(b *stacktest.Table, bo *person)
		stands bool
	}{
		"the same person": {func(_ *stacktest.Table, bo *person) { bo.typed(bo.get(bibPage(1, 1)), "14", "paper") }, false},
		"the judge":       {func(b *stacktest.Table, _ *person) { b.Ask("Cy", key, "14") }, true},
		"taken back, too": {func(b *stacktest.Table, _ *person) {
			b.Type("Cy", key, "14")
			require.NoError(t, b.Store.Undo(t.Context(), decisionsOf(t, b, "Cy")[0].ID, "Cy", "Cy"))
		}, false},
		"forgotten": {func(b *stacktest.Table, _ *person) {
			b.Type("Cy", stacktest.Key("Blue", 1, 2, sheetmodel.PartBib), "9") // known before
			_, err := b.Store.Forget(t.Context(), store.Forget{Match: func(n string) bool { return n == "Bo" }, Words: []string{"Bo"}, By: "race secretary"})
			require.NoError(t, err)
			st, _ := b.Load()
			require.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState)
			b.Type("Cy", key, "14")
		}, true},
	} {
		b := withLine(t)
		b.Race.SpotCheck = 1
		bo := sit(t, open(t, b), "Bo")
		bo.filled(bo.get("/spot"), url.Values{"text": {"19"}, "how": {"paper"}, "do": {"settle"}, "spot": {"1"}})
		bo.send("/undo", url.Values{"decision": {strconv.FormatInt(decisionsOf(t, b, "Bo")[0].ID, 10)}})
		end.do(b, bo)
		st, result := b.Load()
		assert.Equal(t, end.stands, st.Rows[0].BibState == sheetmodel.BibTwoLooks, "%s: %s", name, st.Rows[0].Reason)
		assert.Equal(t, end.stands, len(result.Calls) == 1, name)
	}
}
