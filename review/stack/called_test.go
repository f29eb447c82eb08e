package stack_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// A layout of another make that was edited by hand: a column got its part, and kept the name that the draft had for it. Its bibs
// need two looks like any. Source: the law of the house, a call that accuses needs two looks that agree.
func TestLoad_ABibWhoseFieldIsCalledOtherwise_NeedsTwoLooks(t *testing.T) {
	b := stacktest.New(t)
	sheets := b.Sheets("Blue", 1, stacktest.Row{Bib: "17", Code: "F", Gate: "3"})
	row := &sheets[0].Read.Reading.Rows[0]
	require.Equal(t, sheetmodel.Clear, row.Bib.State)
	row.Bib.Field, row.Gate.Field = "row-01.column-1", "row-01.column-2"
	p, _, err := b.Store.AddPhoto(t.Context(), "card.png", bytes.NewReader(sheets[0].Page), int64(len(sheets[0].Page)), time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), p.ID, "test reader", sheets))

	s, result := b.Load()
	require.Len(t, s.Rows, 1)
	assert.Equal(t, sheetmodel.PartBib, s.Rows[0].BibSeen.Part)
	assert.Equal(t, sheetmodel.PartGate, s.Rows[0].Gate.Part)
	assert.Equal(t, sheetmodel.BibOneLook, s.Rows[0].BibState, "one writing, read once")
	require.Len(t, result.Calls, 1)
	assert.True(t, result.Calls[0].Waiting)
}
