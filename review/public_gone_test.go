package review_test

import (
	"net/http"
	"net/url"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

const tookOut = "It has taken 1 line that is public out of the draft: tell the referee"

// The spot check disagrees with a line that hangs on the board: the row waits, and whoever typed it is told so, and that the line is public.
// They aren't told that the check has not begun. Source: README, "A bib typed otherwise makes its row wait again"; our own logic for the rest.
func TestSpotCheck_AnotherBibThanIsPublic_IsSaid(t *testing.T) {
	b := withLine(t)
	b.Race.SpotCheck = 1
	s := open(t, b)
	ada, bo := sit(t, s, "Ada"), sit(t, s, "Bo")
	require.Equal(t, http.StatusOK, ada.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "1", "F"))).status)
	page := bo.filled(bo.get("/spot"), url.Values{"text": {"19"}, "how": {"paper"}, "do": {"settle"}, "spot": {"1"}}).body
	assert.Contains(t, page, "Card 1 row 1: 19 kept. It needs a second person, or the judge.")
	assert.Contains(t, page, tookOut)
	assert.NotContains(t, page, "has not begun")
	assert.Contains(t, page, "The spot check goes on with 1 bib once nothing is open in that run and course.")
	assert.Contains(t, page, `name="decision"`, "and can take it back")
	for _, p := range []*person{ada, bo} {
		assert.Contains(t, p.get("/draft").body, "1 line that is public is not in the draft as it stands")
	}
	// The judge says 19: the line is another one now, with a clock of its own.
	b.Ask("Cy", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "19")
	page = ada.get("/posting").body
	assert.Contains(t, page, "The draft no longer has this line: referee or jury say whether it is withdrawn.")
	page = ada.send("/posting", postingForm("posted", "12:30", "line", postedForm("19", "1", "F"))).body
	assert.Contains(t, page, clockCells("12:30:00", "12:45:00"))
}

// A look that a public line rests on is taken back: whoever does it is told, and the draft says it until it is put back or the line is
// withdrawn. Source: our own logic.
func TestUndo_OfALookThatAPublicLineRestsOn_IsSaid(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "9", Code: "F", Gate: "3", Panel: "C"})
	s := open(t, b)
	ada, bo := sit(t, s, "Ada"), sit(t, s, "Bo")
	ada.typed(ada.get(bibPage(1, 1)), "14", "paper")
	undo := func() answer {
		all := decisionsOf(t, b, "Ada")
		return ada.send("/undo", url.Values{"decision": {strconv.FormatInt(all[len(all)-1].ID, 10)}})
	}
	assert.NotContains(t, undo().body, tookOut, "nothing is public yet")
	require.Equal(t, http.StatusOK, ada.send("/redo", url.Values{}).status)
	require.Equal(t, http.StatusOK, bo.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "6", "F"))).status)
	const says = "1 line that is public is not in the draft as it stands"
	assert.NotContains(t, bo.get("/draft").body, says)
	assert.Contains(t, undo().body, tookOut)
	assert.Contains(t, bo.get("/draft").body, says)
	require.Equal(t, http.StatusOK, ada.send("/redo", url.Values{}).status)
	assert.NotContains(t, bo.get("/draft").body, says)
	assert.Contains(t, undo().body, tookOut)
	bo.send("/posting", postingForm("withdrawn", "12:10", "group", "girls", "bib", "14", "why", "taken back"))
	assert.NotContains(t, bo.get("/draft").body, says)
}

// A line that is public and not shown, because its row waits again, is no reason to print that nothing is public, nor to say that no line
// keeps anybody out of run 2. Source: our own logic.
func TestPosting_TheOnlyPublicLineIsNotShown_NothingIsDenied(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	p := sit(t, open(t, b), "Bo")
	denied := []string{"Nothing is public yet.", "Nothing of this run is public.", "No line of run 1 keeps anybody out."}
	page := p.get("/posting").body
	for _, words := range denied {
		assert.Contains(t, page, words)
	}
	assert.Contains(t, page, `<section class="section off-paper" aria-label="Blue · run 1">`)
	require.Equal(t, http.StatusOK, p.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "6", "F"))).status)
	require.NoError(t, b.Store.Undo(t.Context(), decisionsOf(t, b, "Ada")[0].ID, "Ada", "elsewhere"))
	page = p.get("/posting").body
	require.Contains(t, page, "1 line that was made public is not in the draft as it stands")
	for _, words := range denied {
		assert.NotContains(t, page, words)
	}
	assert.Contains(t, page, `<section class="section" aria-label="Blue · run 1">`, "it is printed, too")
	assert.Contains(t, page, "1 racer not shown")
}
