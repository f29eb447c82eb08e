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

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// coded adds a photo of sides whose code says card 2, as of a card that was copied.
func coded(t testing.TB, b *stacktest.Table, name string, sides []sheetmodel.SideName, rows ...stacktest.Row) []store.Sheet {
	t.Helper()
	var in []store.NewSheet
	for i, s := range b.Sheets("Blue", 2, rows...) {
		if s.Read.Reading.Side == sides[0] || len(sides) > 1 {
			s.Part = i + 1
			in = append(in, s)
		}
	}
	photo, _, err := b.Store.AddPhoto(t.Context(), name, bytes.NewReader(append(in[0].Page, name...)), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "test reader", in))
	all, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	return all[len(all)-len(in):]
}

var front, back = []sheetmodel.SideName{sheetmodel.Front}, []sheetmodel.SideName{sheetmodel.Back}

func open2(st *stack.Stack) *stack.PhotoQuestion {
	for i, q := range st.Questions {
		if !q.Answered {
			return &st.Questions[i]
		}
	}
	return nil
}

// Two papers carry one number: a card was copied, or a spare was numbered twice. A person says so, each paper gets a number of its
// own, the rows of both are in the check, and the log says who decided it. Source: our own logic.
func TestApart_TwoPapersWithOneNumber_BothAreInTheCheck(t *testing.T) {
	b := stacktest.New(t)
	one := coded(t, b, "one.jpg", front, stacktest.Row{Bib: "14", Code: "F", Gate: "6"}, stacktest.Row{Bib: "40", Code: "F", Gate: "8", State: sheetmodel.Doubtful})[0]
	ada := sit(t, open(t, b), "Ada")
	ada.typed(ada.get(bibPage(2, 2)), "40", "paper")
	require.Equal(t, http.StatusOK, ada.send("/strike/run1/Blue/card-2", url.Values{"row": {"1"}, "note": {"the judge, at the finish"}}).status)
	two := coded(t, b, "two.jpg", front, stacktest.Row{Bib: "31", Code: "F", Gate: "7"}, stacktest.Row{Bib: "37", Code: "F", Gate: "9"}, stacktest.Row{Bib: "23", Code: "F", Gate: "9"})[0]
	st, _ := b.Load()
	q := open2(st)
	require.NotNil(t, q)
	page := ada.get("/questions").body
	assert.Contains(t, page, "they are two papers")
	assert.Less(t, strings.Index(page, `value="earlier"`), strings.Index(page, `value="later"`), "buttons stand as the pictures do")
	assert.NotContains(t, ada.get("/").body, "to settle", "first somebody says which photo counts: no entry of the card is given out")
	a := ada.send("/questions", url.Values{"question": {q.Key}, "answer": {stack.AnswerTwo}, "note": {"I, from the papers"}})
	require.Equal(t, http.StatusOK, a.status, a.body)
	assert.Contains(t, a.body, "Which card is this?")
	assert.Contains(t, a.body, "two papers carry that number")
	st, _ = b.Load()
	assert.NotEmpty(t, st.Facts().Open, "the list is open until the other paper has a number")
	require.NotNil(t, st.Row(ref(2, 2)))
	assert.Equal(t, "40", st.Row(ref(2, 2)).Bib)
	assert.True(t, st.Row(ref(2, 1)).Struck)

	require.Equal(t, http.StatusUnprocessableEntity, ada.send("/which", whichForm(two, "2")).status, "that is the other paper's")
	form := whichForm(two, "102")
	form.Set("further", "yes")
	require.Equal(t, http.StatusOK, ada.send("/which", form).status)
	st, result := b.Load()
	assert.Nil(t, open2(st))
	for place, bib := range map[sheetmodel.RowRef]string{ref(2, 1): "14", ref(2, 2): "40", ref(102, 1): "31", ref(102, 2): "37", ref(102, 3): "23"} {
		if assert.NotNil(t, st.Row(place), "%v", place) {
			assert.Equal(t, bib, st.Row(place).BibSeen.Reading.Text, "%v", place)
		}
	}
	assert.True(t, st.Row(ref(2, 1)).Struck)
	assert.False(t, st.Row(ref(102, 1)).Struck, "struck on the other paper")
	assert.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(2, 2)).BibState, "typed of this paper")
	assert.NotEqual(t, sheetmodel.BibTwoLooks, st.Row(ref(102, 2)).BibState, "nobody has typed this one")
	seen := map[sheetmodel.RowRef]bool{}
	for _, s := range result.Standings {
		seen[s.Ref] = true
	}
	assert.True(t, seen[ref(102, 1)] && seen[ref(2, 2)])
	log, err := b.Store.Answers(t.Context())
	require.NoError(t, err)
	said := ""
	for _, l := range log {
		said += fmt.Sprintln(l.Question, l.Value, l.By, l.Note)
	}
	assert.Contains(t, said, "two-papers/run1/Blue/card-2 yes Ada I, from the papers")
	assert.Contains(t, said, store.WhichCard(two.Photo, two.Part)+" run1/Blue/card-102 Ada")
	page = ada.get("/questions").body
	assert.Contains(t, page, "Two papers carry the number of card 2.")
	assert.Contains(t, ada.get("/draft").body, "Card 102 carries the code of card 2: two papers have that number, as Ada said.")

	// One more photo with that number is of either paper: nobody guesses which.
	again := coded(t, b, "again.jpg", front, stacktest.Row{Bib: "31", Code: "F", Gate: "7"}, stacktest.Row{Bib: "37", Code: "F", Gate: "9"}, stacktest.Row{Bib: "23", Code: "F", Gate: "9"})[0]
	st, _ = b.Load()
	require.Len(t, st.Unnamed, 1)
	assert.Equal(t, again.ID, st.Unnamed[0].ID)
	form = whichForm(again, "102")
	form.Set("same", "yes")
	require.Equal(t, http.StatusOK, ada.send("/which", form).status)
	st, _ = b.Load()
	assert.Empty(t, st.Unnamed)

	// Taken back, all is as before: one card whose photos differ. Nothing of it is lost.
	require.Equal(t, http.StatusOK, ada.send("/questions", url.Values{"question": {"two-papers/run1/Blue/card-2"}, "do": {"again"}}).status)
	st, _ = b.Load()
	assert.NotNil(t, open2(st))
	assert.Nil(t, st.Row(ref(102, 1)))
	_ = one
}

// A back is of one of the two papers: its drawings and second writings are lent to no front until a person says whose it is.
func TestApart_Backs_AreAskedAbout(t *testing.T) {
	b := stacktest.New(t)
	coded(t, b, "one.jpg", front, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	theirs := coded(t, b, "back.jpg", back, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})[0]
	two := coded(t, b, "two.jpg", front, stacktest.Row{Bib: "31", Code: "F", Gate: "7"})[0]
	ada := sit(t, open(t, b), "Ada")
	st, _ := b.Load()
	require.Equal(t, http.StatusOK, ada.send("/questions", url.Values{"question": {open2(st).Key}, "answer": {stack.AnswerTwo}, "note": {"I, from the papers"}}).status)
	st, _ = b.Load()
	assert.Len(t, st.Unnamed, 2, "the other front, and the back")
	assert.Nil(t, st.Card(ref(2, 1).CardKey).Back)
	require.Equal(t, http.StatusOK, ada.send("/which", whichForm(theirs, "2")).status)
	form := whichForm(two, "102")
	form.Set("further", "yes")
	require.Equal(t, http.StatusOK, ada.send("/which", form).status)
	st, _ = b.Load()
	assert.Empty(t, st.Unnamed)
	assert.NotNil(t, st.Card(ref(2, 1).CardKey).Back)
	assert.Nil(t, st.Card(ref(102, 1).CardKey).Back)
}

// A photo that shows one side of a card twice shows two papers, or a picture of the card: it is asked about though nothing that was
// read differs, for what is doubtful on the one may be another bib.
func TestApart_OneSideTwiceInOnePhoto_IsAsked(t *testing.T) {
	b := stacktest.New(t)
	a, o := b.Sheets("Blue", 2, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})[0], b.Sheets("Blue", 2, stacktest.Row{Bib: "17", Code: "F", Gate: "6", State: sheetmodel.Doubtful})[0]
	a.Part, o.Part = 1, 2
	for i, side := range []*store.NewSheet{&a, &o} {
		x := float64(1000 * i)
		side.Corners = [4]sheetmodel.PhotoPoint{{X: x, Y: 0}, {X: x + 900, Y: 0}, {X: x + 900, Y: 1200}, {X: x, Y: 1200}}
	}
	photo, _, err := b.Store.AddPhoto(t.Context(), "both.jpg", bytes.NewReader(append(a.Page, "both"...)), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "test reader", []store.NewSheet{a, o}))
	st, _ := b.Load()
	q := open2(st)
	require.NotNil(t, q)
	assert.Equal(t, "One photo shows the front of card 2 twice. Is it one sheet of paper?", q.Ask)
	assert.NotEmpty(t, st.Facts().Open)
	ada := sit(t, open(t, b), "Ada")
	require.Equal(t, http.StatusOK, ada.send("/questions", url.Values{"question": {q.Key}, "answer": {stack.AnswerTwo}, "note": {"I, from the papers"}}).status)
	st, _ = b.Load()
	assert.Len(t, st.Unnamed, 1)

	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	form := whichForm(sheets[1], "102")
	form.Set("further", "yes")
	require.Equal(t, http.StatusOK, ada.send("/which", form).status)
	// A newer reader that finds the two the other way round takes neither for the other.
	for _, swapped := range []bool{false, true} {
		if swapped {
			a.Part, o.Part = 2, 1
			require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "newer reader", []store.NewSheet{o, a}))
		}
		st, _ = b.Load()
		assert.Equal(t, "17", st.Row(ref(102, 1)).BibSeen.Reading.Text)
		assert.Equal(t, "14", st.Row(ref(2, 1)).BibSeen.Reading.Text)
	}
}

// From the card's page, too, where nothing that was read differs.
func TestApart_FromTheCardsPage(t *testing.T) {
	b := stacktest.New(t)
	row := stacktest.Row{Bib: "14", Code: "F", Gate: "6"}
	coded(t, b, "one.jpg", front, row)
	ada := sit(t, open(t, b), "Ada")
	const words = "This is another sheet of paper with the same number"
	assert.NotContains(t, ada.get("/card/run1/Blue/card-2").body, words, "one photo")
	two := coded(t, b, "two.jpg", front, row)[0]
	assert.Contains(t, ada.get("/card/run1/Blue/card-2").body, words)
	require.Equal(t, http.StatusOK, ada.send("/which", url.Values{"sheet": {fmt.Sprint(two.ID)}, "do": {"apart"}}).status)
	st, _ := b.Load()
	require.Len(t, st.Unnamed, 1)
	assert.Equal(t, two.ID, st.Unnamed[0].ID)
	assert.Equal(t, "one.jpg", st.Photos[0].Sent)
}

// A card of which there is one photo has no second paper.
func TestApart_OnePhoto_IsRefused(t *testing.T) {
	b := stacktest.New(t)
	one := coded(t, b, "one.jpg", front, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})[0]
	ada := sit(t, open(t, b), "Ada")
	assert.Equal(t, http.StatusConflict, ada.send("/which", url.Values{"sheet": {fmt.Sprint(one.ID)}, "do": {"apart"}}).status)
}

// One laptop says that the two photos are of two papers, the other that the later counts: once both are known neither side has a name until
// somebody says again which card it is, and nothing of either paper is lost, in whichever the other is taken in.
func TestApart_SaidOnOneOfTwoLaptops_BothPapersAreInTheCheck(t *testing.T) {
	for _, into := range []string{"the one that said so", "the other"} {
		a := stacktest.New(t)
		coded(t, a, "one.jpg", front, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
		two := coded(t, a, "two.jpg", front, stacktest.Row{Bib: "31", Code: "F", Gate: "7"})[0]
		sheets, err := a.Store.Sheets(t.Context())
		require.NoError(t, err)
		one := sheets[slices.IndexFunc(sheets, func(s store.Sheet) bool { return s.ID != two.ID })]
		o := copyOf(t, a)
		ada, bo := sit(t, open(t, a), "Ada"), sit(t, open(t, o), "Bo")
		st, _ := a.Load()
		key := open2(st).Key
		require.Equal(t, http.StatusOK, ada.send("/questions", url.Values{"question": {key}, "answer": {stack.AnswerTwo}, "note": {"I, from the papers"}}).status)
		form := whichForm(two, "102")
		form.Set("further", "yes")
		require.Equal(t, http.StatusOK, ada.send("/which", form).status)
		require.Equal(t, http.StatusOK, bo.send("/questions", url.Values{"question": {key}, "answer": {stack.AnswerLater}, "note": {"I"}}).status)
		require.Equal(t, http.StatusOK, bo.send("/strike/run1/Blue/card-2", url.Values{"row": {"1"}, "note": {"the judge, at the finish"}}).status)
		in, from := a, o
		if into == "the other" {
			in, from = o, a
		}
		_, err = in.Store.Join(t.Context(), from.Store)
		require.NoError(t, err)
		st, _ = in.Load()
		require.Len(t, st.Unnamed, 2, into)
		assert.Empty(t, st.Rows, into)
		assert.NotEmpty(t, st.Facts().Open, into)
		who := map[*stacktest.Table]*person{a: ada, o: bo}[in]
		require.Equal(t, http.StatusOK, who.send("/which", whichForm(one, "2")).status)
		require.Equal(t, http.StatusOK, who.send("/which", form).status)
		st, _ = in.Load()
		require.NotNil(t, st.Row(ref(2, 1)), into)
		require.NotNil(t, st.Row(ref(102, 1)), into)
		assert.Equal(t, "14", st.Row(ref(2, 1)).Bib, into)
		assert.False(t, st.Row(ref(2, 1)).Struck, into)
		assert.Equal(t, "31", st.Row(ref(102, 1)).BibSeen.Reading.Text, into)
		assert.True(t, st.Row(ref(102, 1)).Struck, "%s: it was struck on the photo that counted there", into)
	}
}
