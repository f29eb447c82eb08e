package draft_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/draft"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// A card of which somebody counted no row on the paper isn't missing any more, and nobody can look it up:
// the draft says on whose word.
func TestDraft_CardWithoutAPhoto_SaysWhoCountedItsRows(t *testing.T) {
	b := stacktest.New(t)
	key := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 5}
	require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: key, Rows: 0, By: "Ada"}))
	said := func() (all []string) {
		for _, f := range blue(t, make1(t, b, draft.Options{})).Notes {
			if f.Rule == "no-picture" {
				all = append(all, f.Sentence)
			}
		}
		return all
	}
	require.Len(t, said(), 1)
	assert.Regexp(t, `^Card 5 \(B5\) has no photo: 0 rows with ink, counted on the paper by Ada at \d\d:\d\d\.$`, said()[0])

	b.Card("Blue", 5, stacktest.Row{Bib: "14", Code: "F", Gate: "25"})
	assert.Empty(t, said(), "now there is a photo")
}
