package review_test

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// Whoever says of a row that nothing is written there, and is wrong about its bib, has said nothing that
// settles its other boxes: a faint mark that the run was one again must not go with that word.
func TestNothing_OfARowThatIsWritten_TakesNoMarkOffIt(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	readAgain(t, b, func(_ sheetmodel.CardKey, r *sheetmodel.Row) {
		r.Rerun.Text, r.Rerun.State = "X", sheetmodel.Doubtful
		r.Rerun.Rivals = []sheetmodel.Rival{{Text: "", Prob: 0.2}}
		r.Rerun.Doubts = []sheetmodel.Doubt{{Kind: sheetmodel.DoubtFaintInk, Detail: "hardly darker than the paper"}}
		r.Code.State, r.Code.Rivals, r.Code.Doubts = r.Rerun.State, r.Rerun.Rivals, r.Rerun.Doubts
	})
	s, _ := b.Load()
	require.True(t, s.Row(ref(1, 1)).Row.Rerun)
	server := open(t, b)
	nothing(sit(t, server, "Cleo"), 1, 1)
	dora := sit(t, server, "Dora")
	dora.typed(dora.get(bibPage(1, 1)), "14", "paper")
	s, _ = b.Load()
	row := s.Row(ref(1, 1))
	require.Equal(t, sheetmodel.BibTwoLooks, row.BibState)
	assert.True(t, row.Row.Rerun, "the mark may be one")
	assert.False(t, row.CodeSure, "the tick may be one")
}

// The bib box holds specks and the second box ink: one person doesn't take the row away.
func TestNothing_InkInTheSecondBox_ASecondPersonLooks(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	readAgain(t, b, func(_ sheetmodel.CardKey, r *sheetmodel.Row) {
		again := r.Bib
		again.Field, again.State, again.Text = "row-01.bib-again", sheetmodel.Doubtful, "14"
		again.Doubts = []sheetmodel.Doubt{{Kind: sheetmodel.DoubtLowCertainty, Detail: "for this test"}}
		grain(r)
		r.BibAgain = again
	})
	server := open(t, b)
	nothing(sit(t, server, "Cleo"), 1, 1)
	s, _ := b.Load()
	assert.Empty(t, s.Row(ref(1, 1)).Nothing)
	assert.Equal(t, sheetmodel.BibWaiting, s.Row(ref(1, 1)).BibState)
	nothing(sit(t, server, "Dora"), 1, 1)
	s, _ = b.Load()
	assert.Equal(t, []string{"Cleo", "Dora"}, s.Row(ref(1, 1)).Nothing)
}

// On paper too: the box is asked again, and nothing else changes.
func TestNothing_OfAPaperRowThatIsWritten_LeavesItsBoxesOpen(t *testing.T) {
	b := stacktest.New(t)
	server := open(t, b)
	cleo, dora := sit(t, server, "Cleo"), sit(t, server, "Dora")
	cleo.send("/paper/run1/Blue/card-6", url.Values{"rows": {"1"}})
	code := "/entry/" + stacktest.Key("Blue", 6, 1, sheetmodel.PartCode)
	nothing(cleo, 6, 1)
	dora.filled(dora.get(code), url.Values{"do": {"nothing-here"}})
	s, _ := b.Load()
	row := s.Row(ref(6, 1))
	assert.Empty(t, row.Nothing)
	assert.False(t, row.CodeSure, "Cleo spoke of the row, Dora of the box")
	assert.True(t, row.PanelSure)
}
