package review_test

import (
	"fmt"
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// renumber lets a newer reader read another number in the head of a plain card.
func renumber(t testing.TB, b *stacktest.Table, s store.Sheet, card int, rows ...stacktest.Row) {
	t.Helper()
	front := b.Sheets("Blue", card, rows...)[0]
	front.Part, front.Read.Plain = s.Part, &store.PlainCard{OneSided: true}
	require.NoError(t, b.Store.AddSheets(t.Context(), s.Photo, "newer reader", []store.NewSheet{front}))
}

// What people marked by hand in a row, they marked on a sheet of paper. Two cards that a newer reader, or a person, takes for each
// other keep their marks: neither strikes a row of the other paper, nor adds one there. Source: our own logic.
func TestFollow_TwoCardsSwapNumbers_MarksStayOnTheirPaper(t *testing.T) {
	for _, how := range []string{"a newer reader", "a person"} {
		b := stacktest.New(t)
		first := []stacktest.Row{{Bib: "14", Code: "F", Gate: "3"}, {Bib: "23", Code: "F", Gate: "3", Struck: true}}
		second := []stacktest.Row{{Bib: "31", Code: "F", Gate: "6"}, {Bib: "37", Code: "F", Gate: "6", Struck: true}}
		one := plainCard(t, b, "one.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, first...)
		two := plainCard(t, b, "two.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 2}, second...)
		ada := sit(t, open(t, b), "Ada")
		require.Equal(t, http.StatusOK, ada.send("/strike/run1/Blue/card-1", url.Values{"row": {"1"}, "note": {"the judge, at the finish"}}).status)
		require.Equal(t, http.StatusOK, ada.send("/addrow/run1/Blue/card-2", url.Values{"row": {"5"}, "front": {fmt.Sprint(two.ID)}}).status)
		stands, _ := rules.StruckAnswer(ref(1, 2))
		require.Equal(t, http.StatusOK, ada.send("/questions", url.Values{"question": {stands}, "answer": {"stands"}, "note": {"the judge"}}).status)
		st, _ := b.Load()
		require.True(t, st.Row(ref(1, 1)).Struck)
		require.NotNil(t, st.Row(ref(2, 5)))
		require.Equal(t, "stands", st.Answers[stands])

		switch how {
		case "a newer reader":
			renumber(t, b, one, 2, first...)
			renumber(t, b, two, 1, second...)
		default:
			for _, s := range []store.Sheet{one, two} {
				require.Equal(t, http.StatusOK, ada.send("/which", url.Values{"sheet": {fmt.Sprint(s.ID)}, "do": {"not"}}).status)
			}
			require.Equal(t, http.StatusOK, ada.send("/which", whichForm(one, "2")).status)
			require.Equal(t, http.StatusOK, ada.send("/which", whichForm(two, "1")).status)
		}
		st, _ = b.Load()
		assert.False(t, st.Row(ref(1, 1)).Struck, "%s: nobody struck a row of the second paper", how)
		assert.True(t, st.Row(ref(2, 1)).Struck, "%s: the first paper's row stays struck", how)
		assert.Nil(t, st.Row(ref(2, 5)), how)
		if assert.NotNil(t, st.Row(ref(1, 5)), how) {
			assert.True(t, st.Row(ref(1, 5)).Added, how)
		}
		assert.Empty(t, st.Answers[stands], "%s: nobody has looked at the line on the paper that is card 1 now", how)
		moved, _ := rules.StruckAnswer(ref(2, 2))
		assert.Equal(t, "stands", st.Answers[moved], "%s: the line was looked at on the paper that is card 2 now", how)
		page := ada.get("/card/run1/Blue/card-2").body
		assert.Contains(t, page, "struck by Ada: the judge, at the finish", how)
		assert.NotContains(t, ada.get("/card/run1/Blue/card-1").body, "struck by Ada", how)

		// What is taken back is taken back on its paper, though it was marked under another number.
		require.Equal(t, http.StatusOK, ada.send("/strike/run1/Blue/card-2", url.Values{"row": {"1"}, "do": {"off"}, "note": {"the judge, again"}}).status)
		require.Equal(t, http.StatusOK, ada.send("/addrow/run1/Blue/card-1", url.Values{"row": {"5"}, "do": {"away"}}).status)
		st, _ = b.Load()
		assert.False(t, st.Row(ref(2, 1)).Struck, how)
		assert.Nil(t, st.Row(ref(1, 5)), how)
	}
}

// What a race kept before marks named their paper is told from its log: which photo had the number then.
func TestFollow_MarkOfAnOlderProgram_StaysOnItsPaper(t *testing.T) {
	b := stacktest.New(t)
	row := stacktest.Row{Bib: "14", Code: "F", Gate: "3"}
	one := plainCard(t, b, "one.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, row)
	two := plainCard(t, b, "two.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 2}, row)
	require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: "row-struck/run1/Blue/card-1/row-01", Value: "marked", By: "Ada", Note: "the judge"}))
	require.NoError(t, b.Store.Bind(t.Context(), store.Binding{Card: one.Card, Run: 1, Course: "Blue", Gates: []string{"3"}, Judge: "Lea", Source: "header", By: "Ada"}))
	renumber(t, b, one, 2, row)
	renumber(t, b, two, 1, row)
	st, _ := b.Load()
	assert.False(t, st.Row(ref(1, 1)).Struck)
	assert.True(t, st.Row(ref(2, 1)).Struck)
	assert.Equal(t, "Lea", st.Card(ref(2, 1).CardKey).Judge)
	assert.NotEqual(t, "Lea", st.Card(ref(1, 1).CardKey).Judge)
}

// A person confirmed the head of one paper: gates and judge are that paper's, whatever number it gets. Source: our own logic.
func TestFollow_TwoCardsSwapNumbers_TheHeadsStayToo(t *testing.T) {
	b := stacktest.New(t)
	row := stacktest.Row{Bib: "14", Code: "F", Gate: "3"}
	one := plainCard(t, b, "one.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 81}, row)
	two := plainCard(t, b, "two.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 82}, row)
	ada := sit(t, open(t, b), "Ada")
	require.Equal(t, http.StatusOK, ada.send("/bind/run1/Blue/card-81", url.Values{"gates": {"3-5"}, "judge": {"Lea"}}).status)
	renumber(t, b, one, 82, row)
	renumber(t, b, two, 81, row)
	st, _ := b.Load()
	assert.Equal(t, []string{"3", "4", "5"}, st.Card(ref(82, 1).CardKey).Gates)
	assert.Equal(t, "Lea", st.Card(ref(82, 1).CardKey).Judge)
	assert.Empty(t, st.Card(ref(81, 1).CardKey).Gates, "nobody has confirmed this paper's head")
}

// A mark whose paper no reader finds any more is not left to another paper that has its number: a person is asked.
func TestFollow_PhotoRefusedAndNumberGivenAway_TheMarkIsAskedAbout(t *testing.T) {
	b := stacktest.New(t)
	row := stacktest.Row{Bib: "14", Code: "F", Gate: "3"}
	one := plainCard(t, b, "one.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, row)
	two := plainCard(t, b, "two.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 2}, row)
	ada := sit(t, open(t, b), "Ada")
	require.Equal(t, http.StatusOK, ada.send("/strike/run1/Blue/card-1", url.Values{"row": {"1"}, "note": {"the judge, at the finish"}}).status)
	require.NoError(t, b.Store.Refuse(t.Context(), one.Photo, "newer reader", store.Refusal{Fault: "blurred", Detail: "not sharp", Remedy: "again"}))
	renumber(t, b, two, 1, row)
	st, _ := b.Load()
	assert.False(t, st.Row(ref(1, 1)).Struck)
	assert.NotEmpty(t, st.Facts().Open)
	page := ada.get("/questions").body
	assert.Contains(t, page, "Row 1 of card 1 was marked by hand as struck out or added")
	assert.Contains(t, page, "another sheet of paper has that number now")
}

// Two photos turn out to be of one sheet of paper: what was marked on the one holds for the card. Taken apart again, it goes
// with its own photo. Source: our own logic.
func TestFollow_TwoSheetsJoined_MarksGoWithTheirPaper(t *testing.T) {
	b := stacktest.New(t)
	row := stacktest.Row{Bib: "14", Code: "F", Gate: "3"}
	plainCard(t, b, "one.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, row)
	two := plainCard(t, b, "two.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 2}, row)
	ada := sit(t, open(t, b), "Ada")
	require.Equal(t, http.StatusOK, ada.send("/strike/run1/Blue/card-2", url.Values{"row": {"1"}, "note": {"the judge, at the finish"}}).status)
	name := func(number string) {
		require.Equal(t, http.StatusOK, ada.send("/which", url.Values{"sheet": {fmt.Sprint(two.ID)}, "do": {"not"}}).status)
		form := whichForm(two, number)
		form.Set("same", "yes")
		require.Equal(t, http.StatusOK, ada.send("/which", form).status)
	}
	name("1")
	st, _ := b.Load()
	assert.True(t, st.Row(ref(1, 1)).Struck)
	name("2")
	st, _ = b.Load()
	assert.False(t, st.Row(ref(1, 1)).Struck)
	assert.True(t, st.Row(ref(2, 1)).Struck)
	// A mark that was taken back while both were one card doesn't come again when they are taken apart.
	name("1")
	require.Equal(t, http.StatusOK, ada.send("/strike/run1/Blue/card-1", url.Values{"row": {"1"}, "do": {"off"}, "note": {"the judge"}}).status)
	name("2")
	st, _ = b.Load()
	assert.False(t, st.Row(ref(1, 1)).Struck)
	assert.False(t, st.Row(ref(2, 1)).Struck)
}

// copyOf opens a copy of a race as a second laptop has it.
func copyOf(t *testing.T, b *stacktest.Table) *stacktest.Table {
	t.Helper()
	o := stacktest.New(t)
	_, err := o.Store.Join(t.Context(), b.Store)
	require.NoError(t, err)
	return o
}

// Two laptops take the same two photos for each other's card. A mark made on the one is about its paper on the other too.
func TestFollow_TwoCopiesJoined_MarksGoWithTheirPaper(t *testing.T) {
	a := stacktest.New(t)
	row := stacktest.Row{Bib: "14", Code: "F", Gate: "3"}
	one := plainCard(t, a, "one.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, row)
	two := plainCard(t, a, "two.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 2}, row)
	other := copyOf(t, a)
	renumber(t, a, one, 2, row) // a newer program on this laptop
	renumber(t, a, two, 1, row)
	ada, bo := sit(t, open(t, a), "Ada"), sit(t, open(t, other), "Bo")
	require.Equal(t, http.StatusOK, bo.send("/strike/run1/Blue/card-1", url.Values{"row": {"1"}, "note": {"the judge, at the finish"}}).status)
	_, err := a.Store.Join(t.Context(), other.Store)
	require.NoError(t, err)
	st, _ := a.Load()
	card := func(s store.Sheet) int {
		for _, c := range st.Cards {
			if c.Front != nil && c.Front.Photo == s.Photo {
				return c.Printed.Card
			}
		}
		return 0
	}
	assert.True(t, st.Row(ref(card(one), 1)).Struck)
	assert.False(t, st.Row(ref(card(two), 1)).Struck)
	assert.Contains(t, ada.get(fmt.Sprintf("/card/run1/Blue/card-%d", card(one))).body, "struck by Bo")
}
