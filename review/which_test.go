package review_test

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// plainCard adds a photo of the front of a card that carries no identity, as a card of another make is collected.
func plainCard(t testing.TB, b *stacktest.Table, name string, card sheetmodel.CardKey, rows ...stacktest.Row) store.Sheet {
	t.Helper()
	front := b.Sheets("Blue", 1, rows...)[0]
	front.Card, front.Read.Plain = card, &store.PlainCard{OneSided: true}
	photo, _, err := b.Store.AddPhoto(t.Context(), name, bytes.NewReader(append(front.Page, name...)), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "test reader", []store.NewSheet{front}))
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	return sheets[len(sheets)-1]
}

func whichForm(s store.Sheet, card string) url.Values {
	return url.Values{"sheet": {fmt.Sprint(s.ID)}, "run": {"1"}, "course": {"Blue"}, "card": {card}}
}

// Our own logic: a side that says to no machine which card it is counts nowhere until a person says it, and nothing of
// what was read is on the page that asks.
func TestWhich_SideWithoutIdentity_CountsOnceAPersonNamesIt(t *testing.T) {
	b := stacktest.New(t)
	s := plainCard(t, b, "league.jpg", sheetmodel.CardKey{}, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	p := sit(t, open(t, b), "Ada")
	page := p.get("/questions")
	assert.Contains(t, page.body, "Which card is this?")
	assert.NotContains(t, page.body, ">14<")
	assert.Contains(t, p.get("/").body, "1 photographed side is of cards that nobody has named yet")
	st, _ := b.Load()
	assert.Empty(t, st.Rows)
	assert.NotEmpty(t, st.Facts().Open, "every list says that it may be incomplete")

	a := p.send("/which", url.Values{"sheet": {fmt.Sprint(s.ID)}, "card": {"1"}})
	assert.Equal(t, http.StatusUnprocessableEntity, a.status, "run and course are not filled in for anybody")
	a = p.send("/which", whichForm(s, "77"))
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, "has no card 77")

	a = p.send("/which", whichForm(s, "1"))
	require.Equal(t, http.StatusOK, a.status, a.body)
	assert.NotContains(t, a.body, "Which card is this?")
	st, _ = b.Load()
	require.Len(t, st.Rows, 1)
	assert.Equal(t, sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, st.Rows[0].Ref.CardKey)
	assert.NotContains(t, p.get("/").body, "back missing", "its layout has none")
	assert.Contains(t, p.get("/questions").body, "Which card does photo league.jpg show?", "and who said so")
	assert.Equal(t, http.StatusConflict, p.send("/which", whichForm(s, "2")).status, "it is not asked any more")

	// Taken back, it is nobody's again; whatever it was named before stays in the log.
	p.send("/which", url.Values{"sheet": {fmt.Sprint(s.ID)}, "do": {"not"}})
	st, _ = b.Load()
	assert.Len(t, st.Unnamed, 1)
	assert.Empty(t, st.Rows)
}

// A back has no head. It is asked about after the fronts, be its photo the first. Source: our own logic.
func TestWhich_BackWithoutHead_IsAskedAfterFronts(t *testing.T) {
	b := stacktest.New(t)
	sides := b.Sheets("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	for i, s := range []store.NewSheet{sides[1], sides[0]} {
		s.Card, s.Read.Plain = sheetmodel.CardKey{}, &store.PlainCard{}
		photo, _, err := b.Store.AddPhoto(t.Context(), fmt.Sprintf("p%d.jpg", i), bytes.NewReader(append(s.Page, byte(i))), -1, time.Time{})
		require.NoError(t, err)
		require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "test reader", []store.NewSheet{s}))
	}
	page := sit(t, open(t, b), "Ada").get("/questions").body
	front, back := strings.Index(page, "Photo p1.jpg, front"), strings.Index(page, "Photo p0.jpg, back")
	require.Positive(t, front)
	assert.Less(t, front, back)
}

// A second sheet of paper under the number of the first one would take its rows' place: it must be said.
func TestWhich_NumberThatIsInAlready_NeedsAWord(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	s := plainCard(t, b, "more.jpg", sheetmodel.CardKey{}, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	p := sit(t, open(t, b), "Ada")
	a := p.send("/which", whichForm(s, "1"))
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, "is there already, in photo card-01.png")
	form := whichForm(s, "1")
	form.Set("same", "yes")
	assert.Equal(t, http.StatusOK, p.send("/which", form).status)
}

// What a person has typed of a side they have typed, whatever it is called: a side that gets another number is no second
// chance to type the text that the machine read, after having been told that the first was another. Source: our own logic.
func TestWhich_Renamed_WhoTypedItDoesNotTypeItUnseenAgain(t *testing.T) {
	for _, how := range []string{"typed", "taken back", "renamed by another reader"} {
		b := stacktest.New(t)
		s := plainCard(t, b, "league.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, stacktest.Row{Bib: "14", Code: "F", Gate: "6", State: sheetmodel.Doubtful})
		ada := sit(t, open(t, b), "Ada")
		next := ada.typed(ada.get(bibPage(1, 1)), "17", "paper")
		require.Contains(t, next.body, "It needs a second person, or the judge.")
		switch how {
		case "taken back":
			st, _ := b.Load()
			ada.send("/undo", url.Values{"decision": {fmt.Sprint(st.Decisions[0].ID)}})
		case "renamed by another reader":
			front := b.Sheets("Blue", 2, stacktest.Row{Bib: "14", Code: "F", Gate: "6", State: sheetmodel.Doubtful})[0]
			front.Read.Plain = &store.PlainCard{OneSided: true}
			require.NoError(t, b.Store.AddSheets(t.Context(), s.Photo, "another reader", []store.NewSheet{front}))
		}
		if how != "renamed by another reader" {
			ada.send("/which", url.Values{"sheet": {fmt.Sprint(s.ID)}, "do": {"not"}})
			require.Equal(t, http.StatusOK, ada.send("/which", whichForm(s, "2")).status)
		}
		st, _ := b.Load()
		require.Equal(t, sheetmodel.BibWaiting, st.Row(ref(2, 1)).BibState, how)
		sheets, err := b.Store.Sheets(t.Context())
		require.NoError(t, err)
		ada.get(bibPage(2, 1))
		ada.send(bibPage(2, 1), url.Values{"sheet": {fmt.Sprint(sheets[0].ID)}, "do": {"settle"}, "how": {"paper"}, "text": {"14"}})
		st, _ = b.Load()
		assert.Equal(t, sheetmodel.BibWaiting, st.Row(ref(2, 1)).BibState, how)
		for _, d := range st.Decisions {
			assert.Equal(t, d.Text == "17", d.Blind, how)
		}
	}
}

// A look is at ink: it goes with its side to the card that the side is, and is no look at another sheet of paper that gets
// the number. Source: our own logic.
func TestWhich_Renamed_LooksGoWithTheirInk(t *testing.T) {
	b := stacktest.New(t)
	s := plainCard(t, b, "league.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, stacktest.Row{Bib: "14", Code: "F", Gate: "6", State: sheetmodel.Doubtful})
	ada := sit(t, open(t, b), "Ada")
	ada.typed(ada.get(bibPage(1, 1)), "14", "paper")
	st, _ := b.Load()
	require.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(1, 1)).BibState)
	ada.send("/which", url.Values{"sheet": {fmt.Sprint(s.ID)}, "do": {"not"}})
	st, _ = b.Load()
	assert.Empty(t, st.Rows, "nobody's card has no rows, and none of it is left under the old number")
	require.Equal(t, http.StatusOK, ada.send("/which", whichForm(s, "2")).status)
	plainCard(t, b, "other.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, stacktest.Row{Bib: "14", Code: "F", Gate: "3", State: sheetmodel.Doubtful})
	st, _ = b.Load()
	assert.Equal(t, sheetmodel.BibWaiting, st.Row(ref(1, 1)).BibState, "nobody has looked at this paper")
	assert.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(2, 1)).BibState)
}

// A mark that a row is struck out was made on one sheet of paper, and strikes no row of another that gets its number.
func TestWhich_Renamed_MarksGoWithTheName(t *testing.T) {
	b := stacktest.New(t)
	row := stacktest.Row{Bib: "14", Code: "F", Gate: "3"}
	s := plainCard(t, b, "league.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, row)
	ada := sit(t, open(t, b), "Ada")
	require.Equal(t, http.StatusOK, ada.send("/strike/run1/Blue/card-1", url.Values{"row": {"1"}, "note": {"the judge, at the finish"}}).status)
	require.Equal(t, http.StatusOK, ada.send("/addrow/run1/Blue/card-1", url.Values{"row": {"5"}, "front": {fmt.Sprint(s.ID)}}).status)
	st, _ := b.Load()
	require.True(t, st.Row(ref(1, 1)).Struck)
	require.NotNil(t, st.Row(ref(1, 5)))
	assert.Contains(t, ada.send("/which", url.Values{"sheet": {fmt.Sprint(s.ID)}, "do": {"not"}}).body, "What was marked by hand in its rows goes with it.")
	plainCard(t, b, "other.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, row)
	st, _ = b.Load()
	assert.False(t, st.Row(ref(1, 1)).Struck)
	assert.Nil(t, st.Row(ref(1, 5)))
}

// A card that says itself which one it is can't be made another one.
func TestWhich_CardWithIdentity_StaysWhatItIs(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	p := sit(t, open(t, b), "Ada")
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	assert.Equal(t, http.StatusConflict, p.send("/which", whichForm(sheets[0], "2")).status)
	require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: store.WhichCard(sheets[0].Photo, 1), Value: "run1/Blue/card-2", By: "Ada"}))
	sheets, err = b.Store.Sheets(t.Context())
	require.NoError(t, err)
	assert.Equal(t, 1, sheets[0].Card.Card)
}

// Who was shown what a card says knows it also after the card got another number: typed then, it is no blind look.
func TestWhich_Renamed_WhoSawTheTextStaysOneWhoSawIt(t *testing.T) {
	b := stacktest.New(t)
	s := plainCard(t, b, "league.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	desk := open(t, b)
	ada := sit(t, desk, "Ada")
	require.Equal(t, http.StatusOK, ada.get("/card/run1/Blue/card-1").status)
	require.NoError(t, b.Store.Serve(t.Context(), store.Served{Session: "x", Person: "Ada", Readings: []string{stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)}, Sheet: s.ID, Reveals: true, What: "test"}))
	ada.send("/which", url.Values{"sheet": {fmt.Sprint(s.ID)}, "do": {"not"}})
	require.Equal(t, http.StatusOK, ada.send("/which", whichForm(s, "2")).status)
	assert.True(t, shown(t, b, "Ada", stacktest.Key("Blue", 2, 1, sheetmodel.PartBib)))
}

// However the number is taken from a side, what people said of its rows by hand and of its back goes with it: by the answer
// under Questions as by the button beside the picture. Source: our own logic.
func TestWhich_AnswerTakenBack_MarksGoWithThePaper(t *testing.T) {
	for _, how := range []string{"not this card", "answer taken back"} {
		b := stacktest.New(t)
		plain := func(name string) store.Sheet {
			return plainCard(t, b, name, sheetmodel.CardKey{}, stacktest.Row{Bib: "14", Code: "F", Gate: "3"}, stacktest.Row{Bib: "17", Code: "F", Gate: "3", Struck: true})
		}
		s := plain("league.jpg")
		ada := sit(t, open(t, b), "Ada")
		require.Equal(t, http.StatusOK, ada.send("/which", whichForm(s, "1")).status)
		require.Equal(t, http.StatusOK, ada.send("/strike/run1/Blue/card-1", url.Values{"row": {"1"}, "note": {"the judge, at the finish"}}).status)
		struck, word := rules.StruckAnswer(ref(1, 2))
		require.Equal(t, http.StatusOK, ada.send("/questions", url.Values{"question": {struck}, "answer": {word}, "note": {"the judge"}}).status)
		form := url.Values{"sheet": {fmt.Sprint(s.ID)}, "do": {"not"}}
		to := "/which"
		if how == "answer taken back" {
			form, to = url.Values{"question": {store.WhichCard(s.Photo, s.Part)}, "do": {"again"}}, "/questions"
		}
		assert.Contains(t, ada.send(to, form).body, "goes with it", how)
		other := plain("other.jpg")
		require.Equal(t, http.StatusOK, ada.send("/which", whichForm(other, "1")).status)
		st, _ := b.Load()
		require.NotNil(t, st.Row(ref(1, 1)), how)
		assert.False(t, st.Row(ref(1, 1)).Struck, how)
		assert.Empty(t, st.Answers[struck], how+": nobody has looked at this paper's line")
		require.Equal(t, http.StatusOK, ada.send("/which", whichForm(s, "2")).status)
		st, _ = b.Load()
		assert.True(t, st.Row(ref(2, 1)).Struck, how)
		moved, _ := rules.StruckAnswer(ref(2, 2))
		assert.Equal(t, word, st.Answers[moved], how)
		assert.False(t, st.Row(ref(1, 1)).Struck, how)
	}
}

// A side that gets another number by another reader, or in another copy of the race, takes along what people marked in its rows; if
// no reader finds it any more, the marks aren't left behind without a word: a row that they had struck out would stand.
// Source: our own logic.
func TestWhich_RenamedByAReader_MarksGoAlongOrAreAskedAbout(t *testing.T) {
	b := stacktest.New(t)
	row := stacktest.Row{Bib: "14", Code: "F", Gate: "3"}
	s := plainCard(t, b, "league.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, row)
	ada := sit(t, open(t, b), "Ada")
	require.Equal(t, http.StatusOK, ada.send("/strike/run1/Blue/card-1", url.Values{"row": {"1"}, "note": {"the judge, at the finish"}}).status)
	assert.NotContains(t, ada.get("/questions").body, "marked by hand")
	renumber(t, b, s, 77, row)
	st, _ := b.Load()
	assert.True(t, st.Row(ref(77, 1)).Struck)
	assert.Empty(t, st.Facts().Open)
	assert.NotContains(t, ada.get("/questions").body, "marked by hand")

	require.NoError(t, b.Store.Refuse(t.Context(), s.Photo, "another reader", store.Refusal{Fault: "blurred", Detail: "not sharp", Remedy: "again"}))
	const asks = "Row 1 of card 1 was marked by hand as struck out or added, and no photo has that number any more."
	assert.Contains(t, ada.get("/questions").body, asks)
	assert.Contains(t, ada.get("/draft").body, asks, "the list is open")
	key := "marks-left/run1/Blue/card-1/1"
	st, _ = b.Load()
	require.NotEmpty(t, st.Facts().Open)
	assert.Equal(t, http.StatusOK, ada.send("/questions", url.Values{"question": {key}, "answer": {"seen"}, "note": {"Ada, from the paper"}}).status)
	st, _ = b.Load()
	assert.Empty(t, st.Facts().Open)
	assert.Contains(t, ada.get("/questions").body, asks, "among the answered ones")
	ada.send("/questions", url.Values{"question": {key}, "do": {"again"}})
	st, _ = b.Load()
	assert.NotEmpty(t, st.Facts().Open)
}

// One paper photographed twice under two numbers: whoever was shown its text under the one has typed nothing unseen under the
// other, once both are known to be one card. Shown only afterwards, it was unseen. Source: our own logic.
func TestWhich_OnePaperUnderTwoNumbers_WhoSawItUnderTheOneIsNotBlind(t *testing.T) {
	for _, when := range []string{"before", "after", "to another"} {
		b := stacktest.New(t)
		row := stacktest.Row{Bib: "14", Code: "F", Gate: "3"}
		plainCard(t, b, "first.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, row)
		second := plainCard(t, b, "second.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 2}, row)
		ada := sit(t, open(t, b), "Ada")
		shown := func(to string) {
			require.NoError(t, b.Store.Serve(t.Context(), store.Served{Session: "x", Person: to, Readings: []string{stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)}, Reveals: true, What: "test"}))
		}
		switch when {
		case "before":
			shown("ada")
		case "to another":
			shown("Bo")
		}
		ada.typed(ada.get(bibPage(2, 1)), "14", "paper")
		if when == "after" {
			shown("Ada")
		}
		st, _ := b.Load()
		require.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(2, 1)).BibState, "two cards, as far as anybody knows")
		ada.send("/which", url.Values{"sheet": {fmt.Sprint(second.ID)}, "do": {"not"}})
		form := whichForm(second, "1")
		form.Set("same", "yes")
		require.Equal(t, http.StatusOK, ada.send("/which", form).status)
		st, _ = b.Load()
		require.NotNil(t, st.Row(ref(1, 1)))
		assert.Equal(t, when != "before", st.Row(ref(1, 1)).BibState == sheetmodel.BibTwoLooks, when)
	}
}

// shown reports whether the log says that a person has seen the text of a reading.
func shown(t *testing.T, b *stacktest.Table, person, key string) bool {
	log, err := b.Store.ServedLog(t.Context())
	require.NoError(t, err)
	return slices.ContainsFunc(log, func(v store.Served) bool { return v.Reveals && v.Person == person && slices.Contains(v.Readings, key) })
}
