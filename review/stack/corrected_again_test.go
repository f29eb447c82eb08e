package stack_test

import (
	"bytes"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// mendedCard adds a photo of card 1 and returns its name; mend may change what was read of its one row.
func mendedCard(t *testing.T, b *stacktest.Table, name string, row stacktest.Row, mend func(*sheetmodel.Row)) string {
	t.Helper()
	sheets := b.Sheets("Blue", 1, row)
	if mend != nil {
		mend(&sheets[0].Read.Reading.Rows[0])
	}
	photo, _, err := b.Store.AddPhoto(t.Context(), name, bytes.NewReader(append(slices.Clone(sheets[0].Page), name...)), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "test reader", sheets))
	return photo.ID
}

// The judge reads 14 aloud, then writes a further stroke on the line between two boxes, and the card is photographed
// again: the reader sees the old digits, and that a stroke may lie on the print. The older word is none about that ink.
// Source: our own logic.
func TestLooks_StrokeOnThePrintSince_AreNoLooksAtTheNewInk(t *testing.T) {
	for _, how := range []string{"typed", "aloud", "asked"} {
		b := stacktest.New(t)
		mendedCard(t, b, "first.png", stacktest.Row{Bib: "14", Code: "F", Gate: "6"}, nil)
		says(t, b, "Ada", "14", how)
		mendedCard(t, b, "again.png", stacktest.Row{Bib: "14", Code: "F", Gate: "6", State: sheetmodel.Doubtful, Doubt: sheetmodel.DoubtOnPrint}, nil)
		st, _ := b.Load()
		assert.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState, how)
	}
}

// So it is where the judge has mended the second writing of the row and not the first. Source: our own logic.
func TestLooks_SecondWritingMendedSince_AreNoLooksAtTheRow(t *testing.T) {
	row := stacktest.Row{Bib: "14", Code: "F", Gate: "6", State: sheetmodel.Doubtful, Rivals: []string{"19"}}
	again := func(text string, kind sheetmodel.DoubtKind) func(*sheetmodel.Row) {
		return func(r *sheetmodel.Row) {
			r.BibAgain = sheetmodel.Reading{Field: "row-01.bib-again", Side: sheetmodel.Front, Text: text, State: sheetmodel.Doubtful}
			r.BibAgain.Doubts = []sheetmodel.Doubt{{Kind: kind, Detail: "for this test"}}
		}
	}
	for name, c := range map[string]struct {
		mend   func(*sheetmodel.Row)
		stands bool
	}{
		"the same":    {again("14", sheetmodel.DoubtLowCertainty), true},
		"struck out":  {again("14", sheetmodel.DoubtStruckOut), false},
		"overwritten": {again("19", sheetmodel.DoubtOverwritten), false},
	} {
		b := stacktest.New(t)
		mendedCard(t, b, "first.png", row, again("14", sheetmodel.DoubtLowCertainty))
		tieAll(t, b)
		says(t, b, "Ada", "14", "aloud")
		st, _ := b.Load()
		require.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState, "%s: %+v", name, st.Rows[0].BibSeen.Seen)
		mendedCard(t, b, "again.png", row, c.mend)
		tieAll(t, b)
		st, _ = b.Load()
		assert.Equal(t, c.stands, st.Rows[0].BibState == sheetmodel.BibTwoLooks, "%s: %+v", name, st.Rows[0].BibSeen.Seen)
	}
}

// The photo at which the older word was said is refused by a newer reader. What was said of it then is no look at the ink of
// another photo, on which a hand has gone over the number. Source: our own logic.
func TestLooks_FirstPhotoRefusedSince_AreNoLooksAtMendedInk(t *testing.T) {
	for name, c := range map[string]struct {
		again  stacktest.Row
		stands bool
	}{
		"the same":              {stacktest.Row{Bib: "14", Code: "F", Gate: "6"}, true},
		"overwritten":           {stacktest.Row{Bib: "14", Code: "F", Gate: "6", State: sheetmodel.Doubtful, Doubt: sheetmodel.DoubtOverwritten}, false},
		"overwritten otherwise": {stacktest.Row{Bib: "19", Code: "F", Gate: "6", State: sheetmodel.Doubtful, Doubt: sheetmodel.DoubtOverwritten, Rivals: []string{"14"}}, false},
		"another, the old seen": {stacktest.Row{Bib: "19", Code: "F", Gate: "6", State: sheetmodel.Doubtful, Rivals: []string{"14"}}, false},
	} {
		b := stacktest.New(t)
		photo := mendedCard(t, b, "first.png", stacktest.Row{Bib: "14", Code: "F", Gate: "6"}, nil)
		says(t, b, "Ada", "14", "aloud")
		require.NoError(t, b.Store.Refuse(t.Context(), photo, "newer reader", store.Refusal{Fault: "blurred", Detail: "not sharp", Remedy: "again"}))
		mendedCard(t, b, "again.png", c.again, nil)
		st, _ := b.Load()
		assert.Equal(t, c.stands, st.Rows[0].BibState == sheetmodel.BibTwoLooks, "%s: %+v", name, st.Rows[0].BibSeen.Seen)
	}
}

// tieAll keeps that both writings of row 1 of every photo of card 1 were read together and lend nothing.
func tieAll(t *testing.T, b *stacktest.Table) {
	t.Helper()
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	for i := 0; i+1 < len(sheets); i += 2 {
		require.NoError(t, b.Store.AddTies(t.Context(), store.CardTies{Front: sheets[i].ID, Back: sheets[i+1].ID, Reader: "test reader"}))
	}
}

// So it is where only another copy of the race holds the photo at which it was said. Source: our own logic.
func TestLooks_PhotoHeldElsewhere_AreNoLooksAtMendedInk(t *testing.T) {
	for doubt, stands := range map[sheetmodel.DoubtKind]bool{sheetmodel.DoubtLowCertainty: true, sheetmodel.DoubtOverwritten: false} {
		b := stacktest.New(t)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", State: sheetmodel.Doubtful, Doubt: doubt})
		_, err := b.Store.Settle(t.Context(), store.Entry{
			Reading: stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), Text: "14", Basis: sheetmodel.BasisJudgeAsked, ReadBack: true, By: "Ada", Session: "Ada", Sheet: -1,
		})
		require.NoError(t, err)
		st, _ := b.Load()
		assert.Equal(t, stands, st.Rows[0].BibState == sheetmodel.BibTwoLooks, doubt)
	}
}
