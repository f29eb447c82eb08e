package review_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// A code in a free cell is read in one way, and isn't proven by that: its page must not say that the ink can be read in two ways, and
// tells nothing of what was read. Source: our own logic.
func TestEntry_CodeInACell_TheTrueReasonIsGiven(t *testing.T) {
	b := stacktest.New(t)
	sheets := b.Sheets("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	read := &sheets[0].Read
	read.Reading.Rows[0].Code.State = sheetmodel.Doubtful
	read.Reading.Rows[0].Code.Doubts = []sheetmodel.Doubt{{Kind: sheetmodel.DoubtLowCertainty, Detail: "for this test"}}
	read.Alone = []string{read.Reading.Rows[0].Bib.Field, read.Reading.Rows[0].Gate.Field}
	p, _, err := b.Store.AddPhoto(t.Context(), "cell.png", bytes.NewReader(sheets[0].Page), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), p.ID, "test reader", sheets))
	page := sit(t, open(t, b), "Cleo").get("/entry/" + stacktest.Key("Blue", 1, 1, sheetmodel.PartCode))
	assert.Contains(t, page.body, "Only the judge knows what was meant: what is written is not certain enough for one person&#39;s word.")
	assert.NotContains(t, page.body, "two ways")
}
