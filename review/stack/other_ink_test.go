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

// says14 lets somebody type 14 unseen of row 1 of a card, at a sheet, and the judge name it unprompted: two looks, whatever
// the ink is read as.
func says14(t *testing.T, b *stacktest.Table, sheet int64) {
	t.Helper()
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	require.NoError(t, b.Store.Serve(t.Context(), store.Served{Session: "Ada", Person: "Ada", Readings: []string{key}, Sheet: sheet, What: "test"}))
	_, err := b.Store.Settle(t.Context(),
		store.Entry{Reading: key, Text: "14", Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "Ada", Sheet: sheet},
		store.Entry{Reading: key, Text: "14", Basis: sheetmodel.BasisJudgeAsked, ReadBack: true, By: "Bo", Session: "Bo", Sheet: sheet})
	require.NoError(t, err)
}

// keep adds a photo with sides, as a reader finds them.
func keep(t *testing.T, b *stacktest.Table, name, reader string, sheets ...store.NewSheet) {
	t.Helper()
	photo, _, err := b.Store.AddPhoto(t.Context(), name, bytes.NewReader([]byte("\xff\xd8\xff "+name)), -1, time.Time{})
	require.NoError(t, err)
	for i := range sheets {
		sheets[i].Part = i + 1
	}
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, reader, sheets))
}

// Two people's words about ink that no reader could make anything of, about the paper before it was photographed, or about a
// photo that only another copy holds, stand as long as no ink is known that shows another bib. A photo that clearly shows
// another one may be of a card that was mended since: they are no looks at that. Source: our own logic.
func TestLooks_SaidOfInkThatNobodyRead_AreNoLooksAtAnotherBib(t *testing.T) {
	unread := stacktest.Row{Bib: "?", Code: "F", Gate: "6", State: sheetmodel.Doubtful, Doubt: sheetmodel.DoubtNotInGrammar}
	for name, said := range map[string]func(*testing.T, *stacktest.Table){
		"unreadable": func(t *testing.T, b *stacktest.Table) {
			sheets := b.Sheets("Blue", 1, unread)
			sheets[0].Read.Reading.Rows[0].Bib.Text = ""
			keep(t, b, "first.jpg", "reader", sheets...)
			all, err := b.Store.Sheets(t.Context())
			require.NoError(t, err)
			says14(t, b, all[0].ID)
		},
		"paper": func(t *testing.T, b *stacktest.Table) {
			require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, Rows: 1, By: "Ada"}))
			says14(t, b, 0)
		},
		"elsewhere": func(t *testing.T, b *stacktest.Table) { says14(t, b, -1) },
	} {
		for _, now := range []struct {
			row    stacktest.Row
			stands bool
		}{
			{stacktest.Row{Bib: "19", Code: "F", Gate: "6"}, false},
			{stacktest.Row{Bib: "14", Code: "F", Gate: "6"}, true},
			{stacktest.Row{Bib: "14", Code: "F", Gate: "6", State: sheetmodel.Doubtful}, true},
			{stacktest.Row{Bib: "19", Code: "F", Gate: "6", State: sheetmodel.Doubtful, Rivals: []string{"14"}}, true},
			{stacktest.Row{Bib: "19", Code: "F", Gate: "6", State: sheetmodel.Doubtful, Rivals: []string{"49"}}, false},
		} {
			b := stacktest.New(t)
			said(t, b)
			keep(t, b, "again.jpg", "reader", b.Sheets("Blue", 1, now.row)...)
			st, _ := b.Load()
			require.Len(t, st.Rows, 1)
			assert.Equal(t, now.stands, st.Rows[0].BibState == sheetmodel.BibTwoLooks, "%s, %+v: %+v", name, now.row, st.Rows[0].BibSeen.Seen)
		}
	}
}

// A number that was clear and of which nothing can be made in a newer photo was gone over, unless that photo is the worse one.
// Source: our own logic.
func TestLooks_ClearThenUnreadable_AreNoLooksUnlessThePhotoIsWorse(t *testing.T) {
	for doubt, stands := range map[sheetmodel.DoubtKind]bool{
		sheetmodel.DoubtNotInGrammar: false, sheetmodel.DoubtPhoto: true, sheetmodel.DoubtHidden: true, sheetmodel.DoubtFaintInk: true,
	} {
		b := stacktest.New(t)
		keep(t, b, "first.jpg", "reader", b.Sheets("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})...)
		all, err := b.Store.Sheets(t.Context())
		require.NoError(t, err)
		says14(t, b, all[0].ID)
		sheets := b.Sheets("Blue", 1, stacktest.Row{Bib: "?", Code: "F", Gate: "6", State: sheetmodel.Doubtful, Doubt: doubt, Rivals: []string{"x"}})
		bib := &sheets[0].Read.Reading.Rows[0].Bib
		bib.Text, bib.Rivals = "", nil
		keep(t, b, "again.jpg", "reader", sheets...)
		st, _ := b.Load()
		assert.Equal(t, stands, st.Rows[0].BibState == sheetmodel.BibTwoLooks, "%s: %+v", doubt, st.Rows[0].BibSeen.Seen)
	}
}

// A photo of two cards is read again, and its sides come in another order, or one of them turns out to be of another card. What
// was said of a card in it stays said of the ink that was shown then: it is no look at the mended ink of a later photo.
// Source: our own logic.
func TestLooks_SidesInAnotherOrderSince_AreNoLooksAtMendedInk(t *testing.T) {
	for _, lost := range []bool{false, true} {
		b := stacktest.New(t)
		one := b.Sheets("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})[0]
		two := b.Sheets("Blue", 2, stacktest.Row{Bib: "22", Code: "F", Gate: "8"})[0]
		keep(t, b, "both.jpg", "reader", one, two)
		all, err := b.Store.Sheets(t.Context())
		require.NoError(t, err)
		says14(t, b, all[0].ID)
		st, _ := b.Load()
		require.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState)
		if lost {
			keep(t, b, "both.jpg", "newer reader", two)
		} else {
			keep(t, b, "both.jpg", "newer reader", two, one)
		}
		keep(t, b, "again.jpg", "reader", b.Sheets("Blue", 1, stacktest.Row{Bib: "19", Code: "F", Gate: "6", State: sheetmodel.Doubtful})...)
		st, _ = b.Load()
		row := st.Row(sheetmodel.RowRef{CardKey: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, Row: 1})
		require.NotNil(t, row)
		assert.Equal(t, sheetmodel.BibWaiting, row.BibState, "lost %v: %+v", lost, row.BibSeen.Seen)
	}
}

// Two people saw no writing where there was grain of the paper; then the judge wrote there, so that no reader can make anything of
// it. The row isn't dropped on their word. Source: our own logic.
func TestLooks_ScrawledSinceNothingWasSeen_TheRowWaits(t *testing.T) {
	for name, c := range map[string]struct {
		doubts  []sheetmodel.DoubtKind
		dropped bool
	}{
		"still grain": {[]sheetmodel.DoubtKind{sheetmodel.DoubtFaintInk, sheetmodel.DoubtNotInGrammar}, true},
		"a scrawl":    {[]sheetmodel.DoubtKind{sheetmodel.DoubtNotInGrammar}, false},
	} {
		b := stacktest.New(t)
		specks := func(doubts ...sheetmodel.DoubtKind) []store.NewSheet {
			sheets := b.Sheets("Blue", 1, stacktest.Row{Bib: "14", State: sheetmodel.Doubtful})
			row := &sheets[0].Read.Reading.Rows[0]
			row.Bib.Text, row.Bib.Doubts = "", nil
			for _, d := range doubts {
				row.Bib.Doubts = append(row.Bib.Doubts, sheetmodel.Doubt{Kind: d, Detail: "for this test"})
			}
			return sheets
		}
		keep(t, b, "first.jpg", "reader", specks(sheetmodel.DoubtFaintInk)...)
		twoSeeNothing(t, b)
		st, _ := b.Load()
		require.NotEmpty(t, st.Rows[0].Nothing, "%+v", st.Rows[0].BibSeen.Seen)
		keep(t, b, "again.jpg", "reader", specks(c.doubts...)...)
		st, _ = b.Load()
		require.Len(t, st.Rows, 1)
		assert.Equal(t, c.dropped, len(st.Rows[0].Nothing) > 0, "%s: %+v", name, st.Rows[0].BibSeen.Seen)
	}
}

// A word in the free cell is typed and named by the judge; then the cell is written over. Source: our own logic.
func TestLooks_WordInTheFreeCellMendedSince_AreNoLooksAtTheNewWord(t *testing.T) {
	b := stacktest.New(t)
	word := func(doubt sheetmodel.DoubtKind) []store.NewSheet {
		sheets := b.Sheets("Blue", 1, stacktest.Row{Bib: "14", Gate: "6"})
		row := &sheets[0].Read.Reading.Rows[0]
		require.Equal(t, sheetmodel.Empty, row.Code.State)
		row.CodeOther.State, row.CodeOther.Doubts = sheetmodel.Doubtful, []sheetmodel.Doubt{{Kind: doubt, Detail: "for this test"}}
		return sheets
	}
	keep(t, b, "first.jpg", "reader", word(sheetmodel.DoubtNotInGrammar)...)
	all, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartCode)
	require.NoError(t, b.Store.Serve(t.Context(), store.Served{Session: "Ada", Person: "Ada", Readings: []string{key}, Sheet: all[0].ID, What: "test"}))
	_, err = b.Store.Settle(t.Context(),
		store.Entry{Reading: key, Text: "F", Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "Ada", Sheet: all[0].ID},
		store.Entry{Reading: key, Text: "F", Basis: sheetmodel.BasisJudgeAsked, ReadBack: true, By: "Bo", Session: "Bo", Sheet: all[0].ID})
	require.NoError(t, err)
	st, _ := b.Load()
	require.True(t, st.Rows[0].CodeSure)
	keep(t, b, "same.jpg", "reader", word(sheetmodel.DoubtNotInGrammar)...)
	st, _ = b.Load()
	assert.True(t, st.Rows[0].CodeSure)
	keep(t, b, "again.jpg", "reader", word(sheetmodel.DoubtOverwritten)...)
	st, _ = b.Load()
	assert.False(t, st.Rows[0].CodeSure, "%+v", st.Rows[0].Code.Seen)
}

// What somebody typed of a card's foot, which couldn't be read, says nothing of the foot as its judge has mended it since.
// Source: our own logic.
func TestHeader_TypedOfAFootThatWasMendedSince_IsNotHeldAgainstTheRows(t *testing.T) {
	b := stacktest.New(t)
	foot := func(text string, kind sheetmodel.DoubtKind) []store.NewSheet {
		sheets := b.Sheets("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
		i := slices.IndexFunc(sheets[0].Read.Reading.Header, func(r sheetmodel.Reading) bool { return r.Field == "foot.row-count" })
		r := &sheets[0].Read.Reading.Header[i]
		r.Text, r.State, r.Doubts = text, sheetmodel.Doubtful, []sheetmodel.Doubt{{Kind: kind, Detail: "for this test"}}
		return sheets
	}
	keep(t, b, "first.jpg", "reader", foot("7", sheetmodel.DoubtLowCertainty)...)
	all, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	key := store.Key(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, sheetmodel.Front, "foot.row-count")
	_, err = b.Store.Settle(t.Context(), store.Entry{Reading: key, Text: "1", Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "Ada", Sheet: all[0].ID})
	require.NoError(t, err)
	st, _ := b.Load()
	require.NotNil(t, st.Cards[0].RowCount)
	keep(t, b, "same.jpg", "reader", foot("7", sheetmodel.DoubtLowCertainty)...)
	st, _ = b.Load()
	require.NotNil(t, st.Cards[0].RowCount)
	keep(t, b, "again.jpg", "reader", foot("2", sheetmodel.DoubtOverwritten)...)
	st, _ = b.Load()
	assert.Nil(t, st.Cards[0].RowCount)
}

// Two people typed a bib from a photo that no reader can use any more, and then the card is typed from the paper: what they did
// isn't called typed from the paper. Source: our own logic.
func TestLooks_TypedFromAPhotoThatIsRefusedSince_AreNotCalledTypedFromThePaper(t *testing.T) {
	b := stacktest.New(t)
	keep(t, b, "first.jpg", "reader", b.Sheets("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", State: sheetmodel.Doubtful})...)
	all, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	require.NoError(t, b.Store.Serve(t.Context(), store.Served{Session: "Ada", Person: "Ada", Readings: []string{key}, Sheet: all[0].ID, What: "test"}))
	_, err = b.Store.Settle(t.Context(), store.Entry{Reading: key, Text: "14", Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "Ada", Sheet: all[0].ID})
	require.NoError(t, err)
	require.NoError(t, b.Store.Refuse(t.Context(), all[0].Photo, "newer reader", store.Refusal{Fault: "blurred", Detail: "not sharp", Remedy: "again"}))
	require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, Rows: 1, By: "Cy"}))
	b.Type("Bo", key, "14")
	st, _ := b.Load()
	require.Len(t, st.Rows, 1)
	require.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState)
	var kinds []sheetmodel.LookKind
	for _, k := range st.Rows[0].BibSeen.Seen.Looks {
		kinds = append(kinds, k.Kind)
	}
	assert.Equal(t, []sheetmodel.LookKind{sheetmodel.LookBlind, sheetmodel.LookPaper}, kinds)
}

// A side without an identity was taken for card 1 and typed; then somebody says that it is card 2, and a newer reader can't use its
// photo. What was said of it stays said of card 2: card 1, which is typed from the paper, doesn't get it back. Source: our own logic.
func TestLooks_SideOfAnotherCardIsRefusedSince_DoNotComeBackToTheFirst(t *testing.T) {
	for said, at := range map[string]int{"run1/Blue/card-2": 2, "not-known": 0} {
		b := stacktest.New(t)
		front := b.Sheets("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})[0]
		front.Read.Plain = &store.PlainCard{OneSided: true}
		keep(t, b, "first.jpg", "reader", front)
		all, err := b.Store.Sheets(t.Context())
		require.NoError(t, err)
		says14(t, b, all[0].ID)
		require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: store.WhichCard(all[0].Photo, 1), Value: said, By: "Ada"}))
		require.NoError(t, b.Store.Refuse(t.Context(), all[0].Photo, "newer reader", store.Refusal{Fault: "blurred", Detail: "not sharp", Remedy: "again"}))
		require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, Rows: 1, By: "Cy"}))
		require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 2}, Rows: 1, By: "Cy"}))
		st, _ := b.Load()
		for _, r := range st.Rows {
			assert.Equal(t, r.Ref.Card == at, len(r.BibSeen.Seen.Typed) > 0, "%s, card %d: %+v", said, r.Ref.Card, r.BibSeen.Seen)
		}
	}
}

// A bib was typed and named from a photo of the card as it was mended; that photo is refused since, and the older one, in which
// the old number is clear, counts. It doesn't show what they said. Source: our own logic.
func TestLooks_OfMendedInk_AreNoLooksAtTheInkBefore(t *testing.T) {
	for name, c := range map[string]struct {
		before stacktest.Row
		stands bool
	}{
		"another bib": {stacktest.Row{Bib: "12", Code: "F", Gate: "6"}, false},
		"the same":    {stacktest.Row{Bib: "14", Code: "F", Gate: "6"}, true},
	} {
		b := stacktest.New(t)
		keep(t, b, "first.jpg", "reader", b.Sheets("Blue", 1, c.before)...)
		keep(t, b, "again.jpg", "reader", b.Sheets("Blue", 1, stacktest.Row{Bib: c.before.Bib, Code: "F", Gate: "6", State: sheetmodel.Doubtful, Doubt: sheetmodel.DoubtOverwritten, Rivals: []string{"14"}})...)
		all, err := b.Store.Sheets(t.Context())
		require.NoError(t, err)
		says14(t, b, all[2].ID)
		st, _ := b.Load()
		require.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState)
		require.NoError(t, b.Store.Refuse(t.Context(), all[2].Photo, "newer reader", store.Refusal{Fault: "blurred", Detail: "not sharp", Remedy: "again"}))
		st, _ = b.Load()
		assert.Equal(t, c.stands, st.Rows[0].BibState == sheetmodel.BibTwoLooks, "%s: %+v", name, st.Rows[0].BibSeen.Seen)
	}
}

// Two cards without an identity, or two with one identity, lie in one photo. A newer reader finds only the second and takes it for the
// first: what was said of the first is said of ink that lies elsewhere in the photo, and no look at this, whatever the new reader
// reads there. Source: our own logic.
func TestLooks_SideElsewhereInThePhotoTakenForTheCard_AreNoLooksAtIt(t *testing.T) {
	for card, stands := range map[int]bool{1: true, 2: false} { // whose side is found again
		for _, coded := range []bool{false, true} {
			b := stacktest.New(t)
			side := func(truly int, row stacktest.Row) store.NewSheet {
				as := truly
				if coded {
					as = 1 // it was copied
				}
				n := b.Sheets("Blue", as, row)[0]
				if !coded {
					n.Read.Plain = &store.PlainCard{OneSided: true}
				}
				x := float64(1000 * truly)
				n.Corners = [4]sheetmodel.PhotoPoint{{X: x}, {X: x + 800}, {X: x + 800, Y: 600}, {X: x, Y: 600}}
				return n
			}
			one := stacktest.Row{Bib: "14", Code: "F", Gate: "6"}
			first, second := side(1, one), side(2, stacktest.Row{Bib: "14", Code: "F", Gate: "6", State: sheetmodel.Doubtful, Rivals: []string{"15"}}) // it is a 15
			keep(t, b, "both.jpg", "reader", first, second)
			all, err := b.Store.Sheets(t.Context())
			require.NoError(t, err)
			says14(t, b, all[0].ID)
			again := first
			if card == 2 {
				again = second
				again.Card.Card = 1
			}
			keep(t, b, "both.jpg", "newer reader", again)
			st, _ := b.Load()
			row := st.Row(sheetmodel.RowRef{CardKey: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, Row: 1})
			require.NotNil(t, row)
			assert.Equal(t, stands, row.BibState == sheetmodel.BibTwoLooks, "card %d, coded %v: %+v", card, coded, row.BibSeen.Seen)
		}
	}
}
