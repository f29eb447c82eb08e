package review_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// A line hangs on the board, and then its row is set aside: run 2's list, which goes to the start by itself, says that the draft has it no
// more. Nobody is kept from a start by a line that nothing makes, unless somebody says so. Source: our own logic.
func TestPosting_DraftHasTheLineNoMore_Run2IsToldSo(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	p := sit(t, open(t, b), "Cleo")
	page := p.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "6", "F"))).body
	require.Contains(t, page, "May not start.")
	const gone = "the draft has no line of the racer any more"
	assert.NotContains(t, page, gone)
	b.SetAside("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "its judge takes it back")
	page = p.get("/posting").body
	assert.Contains(t, page, "May not start.", "it is public, and nobody has withdrawn it")
	assert.Contains(t, page, gone)
	assert.Regexp(t, `paper-only"><span class="sign" aria-hidden="true"></span>The draft no longer has this line`, page, "on what is printed for the board, too")
	page = p.send("/posting", postingForm("withdrawn", "12:10", "group", "girls", "bib", "14", "why", "its judge takes it back")).body
	assert.Contains(t, page, "Back in.")
	assert.NotContains(t, page, gone)
}
