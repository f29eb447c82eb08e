package review_test

import (
	"encoding/json"
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/draft"
	"gatefold/review/jury"
)

// What was posted and decided can't be taken back like the answer to a question: a line leaves the board struck, with a time.
// Source: our own logic.
func TestQuestions_WhatTheJuryDid_IsNoAnswerToTakeBack(t *testing.T) {
	b := afternoon(t)
	p := sit(t, open(t, b), "Cleo")
	require.Equal(t, http.StatusOK, p.send("/packet", juryForm("posted")).status)
	require.Equal(t, http.StatusOK, p.send("/packet", juryForm("overruled", "present", "referee")).status)
	before, _ := b.Load()
	tried := 0
	for key := range before.Answers {
		if jury.IsKey(key) {
			tried++
			assert.Equal(t, http.StatusConflict, p.send("/questions", url.Values{"question": {key}, "do": {"again"}}).status, key)
		}
	}
	require.Equal(t, 2, tried)
	after, _ := b.Load()
	assert.Equal(t, before.Answers, after.Answers)
}

// The jury overruled a line whose row waits again since. Whether it decided on the racer's other fault too is asked all the same, and
// until that is answered no list shows the other line as one that stands. Source: our own logic.
func TestDraft_OverruledLineWhoseRowWaitsAgain_TheOtherFaultIsAskedAbout(t *testing.T) {
	b, p := overruledOneOfTwo(t)
	require.NoError(t, b.Store.Undo(t.Context(), decisionsOf(t, b, "Ada")[0].ID, "Ada", "Ada"))
	_, result := b.Load()
	for _, c := range result.Calls {
		require.True(t, c.Waiting, "both, for what is asked of them")
	}
	var list draft.Draft
	require.NoError(t, json.Unmarshal([]byte(p.get("/draft/draft.json").body), &list))
	for _, s := range list.Sections {
		assert.Empty(t, s.Proposed)
	}
	assert.Contains(t, p.get("/questions").body, "yes: this fault is overruled too")
}
