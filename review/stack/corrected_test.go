package stack_test

import (
	"bytes"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// photograph adds a further photo of card 1.
func photograph(t *testing.T, b *stacktest.Table, row stacktest.Row) {
	t.Helper()
	sheets := b.Sheets("Blue", 1, row)
	photo, _, err := b.Store.AddPhoto(t.Context(), "again.png", bytes.NewReader(append(slices.Clone(sheets[0].Page), "again"...)), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "test reader", sheets))
}

// says lets somebody type a bib of card 1 unseen, from the newest photo, or enter the judge's word on it.
func says(t *testing.T, b *stacktest.Table, by, text, how string) {
	t.Helper()
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	newest := sheets[len(sheets)-2].ID // its front
	require.NoError(t, b.Store.Serve(t.Context(), store.Served{Session: by, Person: by, Readings: []string{key}, Sheet: newest, What: "test"}))
	e := store.Entry{Reading: key, Text: text, Basis: sheetmodel.BasisOnPaper, ReadBack: how != "typed", By: by, Session: by, Sheet: newest}
	if how == "asked" {
		e.Basis = sheetmodel.BasisJudgeAsked
	}
	_, err = b.Store.Settle(t.Context(), e)
	require.NoError(t, err)
}

// The judge reads a row aloud, or somebody types it; then the judge changes the bib on the paper, and the card is
// photographed again. What was said of the ink as it was is no look at the ink as it is, and a further photo that only
// shows the same ink worse takes no look away. Source: our own logic.
func TestLooks_PaperMendedSince_AreNoLooksAtTheNewInk(t *testing.T) {
	first := stacktest.Row{Bib: "14", Code: "F", Gate: "6"}
	doubtful := func(bib string, doubt sheetmodel.DoubtKind, rivals ...string) stacktest.Row {
		return stacktest.Row{Bib: bib, Code: "F", Gate: "6", State: sheetmodel.Doubtful, Doubt: doubt, Rivals: rivals}
	}
	for name, c := range map[string]struct {
		first, again stacktest.Row
		stands       bool
	}{
		"the same":                  {first, doubtful("14", sheetmodel.DoubtLowCertainty), true},
		"blurred":                   {first, doubtful("14", sheetmodel.DoubtPhoto), true},
		"faint":                     {first, doubtful("14", sheetmodel.DoubtFaintInk), true},
		"overwritten":               {first, doubtful("14", sheetmodel.DoubtOverwritten), false},
		"beside its box":            {first, doubtful("14", sheetmodel.DoubtOutsideBox), false},
		"another bib, the old seen": {first, doubtful("19", sheetmodel.DoubtLowCertainty, "14"), false},
		"overwritten by another":    {first, doubtful("19", sheetmodel.DoubtOverwritten, "14"), false},
		"overwritten before too":    {doubtful("14", sheetmodel.DoubtOverwritten), doubtful("14", sheetmodel.DoubtOverwritten), true},
		"overwritten once more":     {doubtful("14", sheetmodel.DoubtOverwritten), doubtful("14", sheetmodel.DoubtOverwritten, "19"), false},
	} {
		for _, how := range []string{"typed", "aloud", "asked"} {
			b := stacktest.New(t)
			b.Card("Blue", 1, c.first)
			says(t, b, "Ada", "14", how)
			st, _ := b.Load()
			require.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState, "%s, %s", name, how)
			photograph(t, b, c.again)
			st, result := b.Load()
			assert.Equal(t, c.stands, st.Rows[0].BibState == sheetmodel.BibTwoLooks, "%s, %s: %+v", name, how, st.Rows[0].BibSeen.Seen)
			if c.stands {
				continue
			}
			for _, call := range result.Calls {
				assert.True(t, call.Waiting, "%s, %s", name, how)
			}
			assert.NotEqual(t, look.NeedNothing, st.Rows[0].BibSeen.Seen.Next)
			assert.Equal(t, "another photo shows other ink than was typed or heard", st.Rows[0].Reason)
			// Somebody else asks the judge, who has seen what stands there now.
			says(t, b, "Bo", c.again.Bib, "asked")
			st, _ = b.Load()
			assert.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState, "%s, %s", name, how)
			assert.Equal(t, c.again.Bib, st.Rows[0].Bib)
			for _, d := range st.Decisions {
				assert.True(t, d.Blind || d.ReadBack, "the log is not changed")
			}
		}
	}
}

// Ink that may be either of two bibs is the same in a second photo that has them the other way round.
func TestLooks_SameDoubtInTwoPhotos_StayLooks(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", State: sheetmodel.Doubtful, Rivals: []string{"19"}})
	says(t, b, "Ada", "14", "aloud")
	photograph(t, b, stacktest.Row{Bib: "19", Code: "F", Gate: "6", State: sheetmodel.Doubtful, Rivals: []string{"14"}})
	st, _ := b.Load()
	assert.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState)
	assert.Equal(t, "14", st.Rows[0].Bib)
}

// Two people saw no writing in a box, then the judge writes into it: the row doesn't stay dropped on their word.
// Source: our own logic.
func TestLooks_WrittenSinceNothingWasSeen_TheRowWaits(t *testing.T) {
	for text, dropped := range map[string]bool{"19": false, "": true} {
		b := stacktest.New(t)
		specks := func(text string) []store.NewSheet {
			sheets := b.Sheets("Blue", 1, stacktest.Row{Bib: "14", State: sheetmodel.Doubtful, Doubt: sheetmodel.DoubtFaintInk})
			row := &sheets[0].Read.Reading.Rows[0]
			row.Bib.Text, row.Code, row.Gate, row.Panel = text, sheetmodel.Reading{Field: row.Code.Field, Side: sheetmodel.Front, State: sheetmodel.Empty}, sheetmodel.Reading{Field: row.Gate.Field, Side: sheetmodel.Front, State: sheetmodel.Empty}, sheetmodel.Reading{}
			return sheets
		}
		add := func(name string, sheets []store.NewSheet) {
			photo, _, err := b.Store.AddPhoto(t.Context(), name, bytes.NewReader(append(slices.Clone(sheets[0].Page), name...)), -1, time.Time{})
			require.NoError(t, err)
			require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "test reader", sheets))
		}
		add("first.png", specks(""))
		twoSeeNothing(t, b)
		st, _ := b.Load()
		require.NotEmpty(t, st.Rows[0].Nothing)
		add("again.png", specks(text))
		st, _ = b.Load()
		require.Len(t, st.Rows, 1)
		assert.Equal(t, dropped, len(st.Rows[0].Nothing) > 0, "%q: %+v", text, st.Rows[0].BibSeen.Seen)
	}
}

// So it is with what was said of the paper before there was a photo: ink that a hand has gone over may have been gone over since.
func TestLooks_PaperThenAPhotoOfMendedInk_AreNoLooks(t *testing.T) {
	for doubt, stands := range map[sheetmodel.DoubtKind]bool{sheetmodel.DoubtLowCertainty: true, sheetmodel.DoubtOverwritten: false} {
		b := stacktest.New(t)
		card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
		require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: card, Rows: 1, By: "Ada"}))
		b.Ask("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
		b.Card("Blue", 1, stacktest.Row{Bib: "19", Code: "F", Gate: "6", State: sheetmodel.Doubtful, Doubt: doubt, Rivals: []string{"14"}})
		st, _ := b.Load()
		assert.Equal(t, stands, st.Rows[0].BibState == sheetmodel.BibTwoLooks, doubt)
	}
}

// twoSeeNothing has two people say that nothing is written in the bib's box of card 1, row 1.
func twoSeeNothing(t *testing.T, b *stacktest.Table) {
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	all, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	for _, by := range []string{"Ada", "Bo"} {
		require.NoError(t, b.Store.Serve(t.Context(), store.Served{Session: by, Person: by, Readings: []string{key}, Sheet: all[0].ID, What: "test"}))
		_, err = b.Store.Settle(t.Context(), store.Entry{Reading: key, Basis: sheetmodel.BasisNoWriting, By: by, Session: by, Sheet: all[0].ID})
		require.NoError(t, err)
	}
}
