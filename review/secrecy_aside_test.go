package review_test

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// A lost ski was set aside, and another one of the run is still to be typed unseen: no page and no file tells which bib was read or typed on
// the first, for whoever has read it sees the same in the next ink. That it is set aside, why, and how to take that back stays. Once nothing
// waits it is told again. Source: design 5.6; README, "what you are asked never tells you a number".
func TestSecrecy_LostSkiThatWasSetAside_TellsNoBibWhileAnotherIsToBeTyped(t *testing.T) {
	inFull(t)
	b := stacktest.New(t)
	b.Card("Blue", 2, stacktest.Row{Bib: "6794", Code: "K", Gate: "9"}, stacktest.Row{Bib: "6794", Code: "K", Gate: "11"})
	s := open(t, b)
	cleo := sit(t, s, "Cleo")
	next := cleo.filled(cleo.get(bibPage(2, 1)), url.Values{"do": {"aside"}, "note": {"its judge takes it back"}, "text": {""}})
	require.Equal(t, bibPage(2, 2), next.path)
	cleo.post("/who", url.Values{"name": {"Dot"}, "to": {"/"}}) // Cleo stands up, and holds no entry
	bo := sit(t, s, "Bo")
	st, _ := b.Load()
	for path, a := range crawl(t, bo, st, "/posting", "/why", "/card/run1/Blue/card-2") {
		assert.Empty(t, leak(a, "6794"), path)
	}
	page := bo.get("/draft").body
	assert.Regexp(t, `Set aside <span class="count">1</span></h3>.*its judge takes it back`, page)
	assert.Contains(t, page, `action="/undo"`)
	bo.typed(bo.get(bibPage(2, 2)), "6794", "paper")
	require.True(t, decisionsOf(t, b, "Bo")[0].Blind, "after all that was sent it is still typed unseen")
	st, _ = b.Load()
	require.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(2, 2)).BibState)
	assert.Contains(t, bo.get("/draft").body, "bib doubtful: 6794", "nothing waits any more")
}
