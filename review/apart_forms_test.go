package review_test

import (
	"fmt"
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Two papers carry the code of card 2, and a third one, without a code, fits two forms and is said to be card 2 as well. Each gets a
// number of its own, in whichever order it is found out, no row of any of them is lost or counted on another, and taken back all is
// asked again. Source: our own logic.
func TestApart_WithAPaperThatFitsTwoForms(t *testing.T) {
	for _, first := range []string{"the form first", "the code first"} {
		b := stacktest.New(t)
		ada := sit(t, open(t, b), "Ada")
		name := func(s store.Sheet, number string) {
			t.Helper()
			form := whichForm(s, number)
			form.Set("further", "yes")
			form.Set("same", "yes")
			a := ada.send("/which", form)
			require.Equal(t, http.StatusOK, a.status, a.body)
		}
		apart := func() {
			t.Helper()
			st, _ := b.Load()
			q := open2(st)
			require.NotNil(t, q)
			a := ada.send("/questions", url.Values{"question": {q.Key}, "answer": {stack.AnswerTwo}, "note": {"I, from the papers"}})
			require.Equal(t, http.StatusOK, a.status, a.body)
		}
		var one, two store.Sheet
		var forms [2]store.Sheet
		if first == "the form first" {
			forms = forkedCard(t, b, "league.jpg")
			name(forms[1], "2")
			ada.typed(ada.get(bibPage(2, 1)), "41", "paper")
			one = coded(t, b, "one.jpg", front, stacktest.Row{Bib: "31", Code: "F", Gate: "7"})[0]
			apart() // the coded one goes: its code is no name any more
			st, _ := b.Load()
			require.Len(t, st.Unnamed, 1, first)
			assert.Equal(t, one.ID, st.Unnamed[0].ID)
			name(one, "101")
		} else {
			one = coded(t, b, "one.jpg", front, stacktest.Row{Bib: "31", Code: "F", Gate: "7"})[0]
			forms = forkedCard(t, b, "league.jpg")
			name(forms[1], "2")
			apart() // the one that fits two forms goes, and is asked about as both
			st, _ := b.Load()
			require.Len(t, st.Unnamed, 2, first)
			name(forms[1], "101")
			ada.typed(ada.get(bibPage(101, 1)), "41", "paper")
		}
		two = coded(t, b, "two.jpg", front, stacktest.Row{Bib: "17", Code: "F", Gate: "9"})[0]
		st, _ := b.Load()
		if q := open2(st); q != nil {
			apart()
		}
		name(two, "102")
		st, result := b.Load()
		assert.Nil(t, open2(st), first)
		assert.Empty(t, st.Unnamed, first)
		cards := map[string]int{"41": 2, "31": 101, "17": 102}
		if first == "the code first" {
			cards = map[string]int{"41": 101, "31": 2, "17": 102}
		}
		require.Len(t, st.Rows, 3, first)
		for bib, card := range cards {
			row := st.Row(ref(card, 1))
			require.NotNil(t, row, "%s: %s", first, bib)
			assert.Equal(t, bib, row.BibSeen.Reading.Text, first)
			assert.Equal(t, bib == "41", row.BibState == sheetmodel.BibTwoLooks, "%s: %s", first, bib)
		}
		assert.Len(t, result.Standings, 3, first)

		// Called another form: its typed row isn't that of the other form, under the same number.
		card := cards["41"]
		ada.send("/which", url.Values{"sheet": {fmt.Sprint(forms[1].ID)}, "do": {"not"}})
		name(forms[0], fmt.Sprint(card))
		st, _ = b.Load()
		require.NotNil(t, st.Row(ref(card, 1)), first)
		assert.Equal(t, "14", st.Row(ref(card, 1)).BibSeen.Reading.Text, first)
		assert.NotEqual(t, sheetmodel.BibTwoLooks, st.Row(ref(card, 1)).BibState, first)

		// One paper after all: the photos that carry the code are of one card, and differ.
		require.Equal(t, http.StatusOK, ada.send("/questions", url.Values{"question": {"two-papers/run1/Blue/card-2"}, "do": {"again"}}).status)
		st, _ = b.Load()
		assert.NotNil(t, open2(st), first)
		assert.NotEmpty(t, st.Facts().Open, first)
		for _, r := range st.Rows {
			if r.Ref.Card == 2 {
				assert.NotEqual(t, sheetmodel.BibTwoLooks, r.BibState, first)
			}
		}
		require.Equal(t, http.StatusOK, ada.send("/redo", url.Values{}).status)
		st, _ = b.Load()
		assert.Nil(t, open2(st), first)
		assert.Len(t, st.Rows, 3, first)
		for _, page := range []string{"/", "/questions", "/draft", fmt.Sprintf("/card/run1/Blue/card-%d", card)} {
			assert.Equal(t, http.StatusOK, ada.get(page).status, page)
		}
	}
}
