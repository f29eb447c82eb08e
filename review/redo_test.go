package review_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

var undoForm = regexp.MustCompile(`name="decision" value="(\d+)"`)

// What was taken back by a slip is put back as it was, unseen as it was typed; typed anew it would be no look. Source: design, §5.6.
func TestRedo_PutsBackWhatWasTyped(t *testing.T) {
	b := afternoon(t)
	desk := open(t, b)
	p := sit(t, desk, "Cleo")
	st, _ := b.Load()
	before := len(st.Decisions)
	assert.Equal(t, http.StatusConflict, p.send("/redo", url.Values{}).status, "nothing was taken back")
	next := p.typed(p.get(bibPage(1, 2)), "9", "paper")
	st, _ = b.Load()
	require.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(1, 2)).BibState)
	back := p.send("/undo", url.Values{"decision": {undoForm.FindStringSubmatch(next.body)[1]}})
	assert.Contains(t, back.body, "Put it back")
	st, _ = b.Load()
	require.NotEqual(t, sheetmodel.BibTwoLooks, st.Row(ref(1, 2)).BibState)
	assert.Equal(t, http.StatusConflict, sit(t, desk, "Bo").send("/redo", url.Values{}).status, "it is not theirs")
	again := p.send("/redo", url.Values{})
	require.Equal(t, http.StatusOK, again.status, again.body)
	assert.Equal(t, bibPage(2, 2), again.path, "the next that waits")
	st, _ = b.Load()
	assert.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(1, 2)).BibState)
	require.Len(t, st.Decisions, before+2, "nothing is overwritten")
	assert.NotNil(t, st.Decisions[before].Undone)
	assert.True(t, st.Decisions[before+1].Blind)
	assert.Equal(t, http.StatusConflict, p.send("/redo", url.Values{}).status, "once")

	// Taken back once more and typed anew, it is not put back over that.
	p.send("/undo", url.Values{"decision": {strconv.FormatInt(st.Decisions[before+1].ID, 10)}})
	p.typed(p.get(bibPage(1, 2)), "7", "paper")
	assert.Equal(t, http.StatusConflict, p.send("/redo", url.Values{}).status)
	st, _ = b.Load()
	require.Len(t, st.Decisions, before+3)
	assert.False(t, st.Decisions[before+2].Blind)
}

// A row said to be empty is several entries in one step: all of them come back.
func TestRedo_WholeRow_ComesBackWhole(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "3", State: sheetmodel.Doubtful})
	p := sit(t, open(t, b), "Cleo")
	page := p.filled(p.get(bibPage(1, 1)), url.Values{"do": {"nothing"}})
	id := undoForm.FindStringSubmatch(page.body)
	st, _ := b.Load()
	n := len(st.Decisions)
	if id == nil || n < 2 {
		require.NotEmpty(t, st.Decisions)
		id = []string{"", strconv.FormatInt(st.Decisions[0].ID, 10)}
	}
	p.send("/undo", url.Values{"decision": {id[1]}})
	require.Equal(t, http.StatusOK, p.send("/redo", url.Values{}).status)
	st, _ = b.Load()
	standing := 0
	for _, d := range st.Decisions {
		if d.Undone == nil {
			standing++
		}
	}
	assert.Equal(t, n, standing)
	assert.Len(t, st.Decisions, 2*n)
}

// An answer that was taken back is put back with whose word it was.
func TestRedo_Answer(t *testing.T) {
	b := stacktest.New(t)
	coded(t, b, "one.jpg", front, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	coded(t, b, "two.jpg", front, stacktest.Row{Bib: "17", Code: "F", Gate: "6"})
	p := sit(t, open(t, b), "Cleo")
	st, _ := b.Load()
	key := open2(st).Key
	require.Equal(t, http.StatusOK, p.send("/questions", url.Values{"question": {key}, "answer": {stack.AnswerEarlier}, "note": {"the judge of card 2"}}).status)
	gone := p.send("/questions", url.Values{"question": {key}, "do": {"again"}})
	assert.Contains(t, gone.body, "Put it back")
	st, _ = b.Load()
	require.NotNil(t, open2(st))
	require.Equal(t, http.StatusOK, p.send("/redo", url.Values{}).status)
	st, _ = b.Load()
	assert.Nil(t, open2(st))
	assert.Equal(t, stack.AnswerEarlier, st.Answers[key])
	assert.Contains(t, p.get("/questions").body, "the judge of card 2")
	log, err := b.Store.Answers(t.Context())
	require.NoError(t, err)
	assert.Len(t, log, 3)

	// Answered otherwise meanwhile, it isn't put back over that.
	p.send("/questions", url.Values{"question": {key}, "do": {"again"}})
	require.Equal(t, http.StatusOK, sit(t, open(t, b), "Bo").send("/questions", url.Values{"question": {key}, "answer": {stack.AnswerLater}, "note": {"the judge"}}).status)
	assert.Equal(t, http.StatusConflict, p.send("/redo", url.Values{}).status)
}
