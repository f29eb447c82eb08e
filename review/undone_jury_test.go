package review_test

import (
	"encoding/json"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/draft"
	"gatefold/review/jury"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
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

// The jury has overruled a line, and then the start list is mended or handed in with its groups: the racer's line doesn't stand again under
// the new group. Whether it is the same racer, a person says; the list is open until then, behind the veil too. Source: our own logic.
func TestJury_OverruledThenTheStartListHasAnotherGroup_IsAsked(t *testing.T) {
	for answer, want := range map[string]string{"too": "Overruled by the jury", "not": "Proposed"} {
		for _, waits := range []bool{false, true} { // another row of the run may still have to be typed unseen
			b := stacktest.New(t)
			full, bare := b.Race, *b.Race
			bare.Starters = slices.Clone(full.Starters)
			for i := range bare.Starters {
				bare.Starters[i].Group = ""
			}
			b.Race = &bare
			rows := []stacktest.Row{{Bib: "14", Code: "F", Gate: "6", Panel: "B"}}
			if waits {
				rows = append(rows, stacktest.Row{Bib: "9", Code: "F", Gate: "3", Panel: "C", State: sheetmodel.Doubtful})
			}
			b.Card("Blue", 1, rows...)
			b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
			p := sit(t, open(t, b), "Cleo")
			line := url.Values{"group": {""}, "bib": {"14"}, "gate": {"6"}, "code": {"F"}}.Encode()
			require.Equal(t, http.StatusOK, p.send("/posting", postingForm("posted", "12:04", "line", line)).status)
			form := juryForm("overruled", "present", "referee")
			form.Set("group", "")
			require.Equal(t, http.StatusOK, p.send("/packet", form).status)

			b.Race = full
			if waits { // zeros in front of the numbers came with the list, too
				for i := range full.Starters {
					if s := &full.Starters[i]; s.Number == "14" {
						s.Number = "014"
					}
				}
			}
			page := p.get("/draft").body
			assert.Regexp(t, `Would be proposed, waits`, page)
			assert.Contains(t, page, "the jury overruled a fault of 14, perhaps this one")
			assert.NotContains(t, p.get("/posting").body, `name="line"`, "it can't be made public")
			page = p.get("/questions").body
			require.Contains(t, page, "The start list has no 14 any more")
			ask := regexp.MustCompile(`name="question" value="(jury/[^"]+)"><input type="hidden" name="view" value="([^"]+)"`).FindStringSubmatch(page)
			require.NotNil(t, ask)
			require.Equal(t, http.StatusOK, p.send("/questions", url.Values{"question": {html.UnescapeString(ask[1])}, "view": {ask[2]}, "answer": {answer}, "note": {"the referee"}}).status)
			page = p.get("/draft").body
			assert.NotContains(t, page, "perhaps this one")
			assert.Regexp(t, want+` <span class="count">1</span>`, page)
		}
	}
}
