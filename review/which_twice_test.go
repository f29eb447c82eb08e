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
	"gatefold/sheetmodel"
)

// One paper photographed twice under two numbers: whoever typed it under the number that stays, and had been shown its text
// under the one that goes, has typed nothing unseen, once both are known to be one card: by a person's word, or because a
// newer reader reads its head so. Source: our own logic.
func TestWhich_OnePaperUnderTwoNumbers_ShownUnderTheOneThatGoes(t *testing.T) {
	for _, how := range []string{"a person", "a reader"} {
		for _, when := range []string{"before", "after"} {
			b := stacktest.New(t)
			row := stacktest.Row{Bib: "14", Code: "F", Gate: "3"}
			plainCard(t, b, "first.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, row)
			second := plainCard(t, b, "second.jpg", sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 2}, row)
			ada := sit(t, open(t, b), "Ada")
			shown := func() {
				require.NoError(t, b.Store.Serve(t.Context(), store.Served{Session: "x", Person: "ada", Readings: []string{stacktest.Key("Blue", 2, 1, sheetmodel.PartBib)}, Reveals: true, What: "test"}))
			}
			if when == "before" {
				shown()
			}
			ada.typed(ada.get(bibPage(1, 1)), "14", "paper")
			if when == "after" {
				shown()
			}
			st, _ := b.Load()
			require.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(1, 1)).BibState, "two cards, as far as anybody knows")
			if how == "a person" {
				ada.send("/which", url.Values{"sheet": {fmt.Sprint(second.ID)}, "do": {"not"}})
				form := whichForm(second, "1")
				form.Set("same", "yes")
				require.Equal(t, http.StatusOK, ada.send("/which", form).status)
			} else {
				front := b.Sheets("Blue", 1, row)[0]
				front.Card, front.Read.Plain = sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, &store.PlainCard{OneSided: true}
				require.NoError(t, b.Store.AddSheets(t.Context(), second.Photo, "newer reader", []store.NewSheet{front}))
			}
			st, _ = b.Load()
			require.NotNil(t, st.Row(ref(1, 1)))
			assert.Equal(t, when != "before", st.Row(ref(1, 1)).BibState == sheetmodel.BibTwoLooks, "%s, %s", how, when)
		}
	}
}

// Somebody writes down a call on one course, and types a card that is taken for one of the other course; once it is known to be of
// the first, they have typed nothing unseen. A call that they wrote down only afterwards changes nothing. Source: our own logic.
func TestWhich_CallOnTheCourseThatItTurnsOutToBeOf_IsKnown(t *testing.T) {
	for _, when := range []string{"before", "after", "by another", "on its own course, at another gate"} {
		b := stacktest.New(t)
		course, number := "Red", 7
		if when == "on its own course, at another gate" {
			course, number = "Blue", 2
		}
		s := plainCard(t, b, "league.jpg", sheetmodel.CardKey{Run: 1, Course: course, Card: number}, stacktest.Row{Bib: "14", Code: "F", Gate: "3"})
		ada := sit(t, open(t, b), "Ada")
		gate := "3"
		call := func(by string) {
			require.NoError(t, b.Store.Hear(t.Context(), store.HeardEntry{Run: 1, Course: "Blue", Clock: "11:06", From: "radio", Gate: gate, Words: "14 is out", By: by}))
		}
		switch when {
		case "before":
			call("ada")
		case "by another":
			call("Bo")
		case "on its own course, at another gate":
			gate = "20"
			call("Ada")
		}
		ada.typed(ada.get("/entry/"+stacktest.Key(course, number, 1, sheetmodel.PartBib)), "14", "paper")
		if when == "after" {
			call("Ada")
		}
		ada.send("/which", url.Values{"sheet": {fmt.Sprint(s.ID)}, "do": {"not"}})
		require.Equal(t, http.StatusOK, ada.send("/which", whichForm(s, "1")).status)
		st, _ := b.Load()
		require.NotNil(t, st.Row(ref(1, 1)))
		assert.Equal(t, when != "before", st.Row(ref(1, 1)).BibState == sheetmodel.BibTwoLooks, "%s: %+v", when, st.Row(ref(1, 1)).BibSeen.Seen)
	}
}
