package review_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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
