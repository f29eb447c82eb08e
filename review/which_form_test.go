package review_test

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Expected in this file: our own logic. A form is part of what a card is; none is guessed.

// forkedCard adds a photo of one paper that was read as two forms: as the second, its first row is another one.
func forkedCard(t testing.TB, b *stacktest.Table, name string) [2]store.Sheet {
	t.Helper()
	var two [2]store.NewSheet
	for i := range two {
		two[i] = b.Sheets("Blue", 1, stacktest.Row{Bib: []string{"14", "41"}[i], Code: "F", Gate: "6"})[0]
		two[i].Card, two[i].Part = sheetmodel.CardKey{}, i+1
		two[i].Corners = [4]sheetmodel.PhotoPoint{{X: 10, Y: 10}, {X: 900, Y: 10}, {X: 900, Y: 1300}, {X: 10, Y: 1300}}
		two[i].Read.Plain = &store.PlainCard{OneSided: true, Or: []int{2 - i}}
		two[i].Layout = []string{two[0].Layout, "another form"}[i]
	}
	photo, _, err := b.Store.AddPhoto(t.Context(), name, bytes.NewReader(append(two[0].Page, name...)), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "test reader", two[:]))
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	return [2]store.Sheet{sheets[len(sheets)-2], sheets[len(sheets)-1]}
}

func TestWhich_PaperFitsTwoForms_IsOneQuestionAndCountsAsTheFormThatIsSaid(t *testing.T) {
	b := stacktest.New(t)
	forms := forkedCard(t, b, "league.jpg")
	p := sit(t, open(t, b), "Ada")
	page := p.get("/questions")
	assert.Contains(t, page.body, "Which form is this?")
	assert.Equal(t, 1, bytes.Count([]byte(page.body), []byte("<section class=\"question which\"")), "one paper, one question")
	assert.NotContains(t, page.body, " checked", "no form is chosen for anybody")
	assert.NotContains(t, page.body, ">14<")
	assert.NotContains(t, page.body, ">41<")
	assert.Contains(t, p.get("/").body, "1 photographed side is of cards that nobody has named yet")
	st, _ := b.Load()
	assert.Empty(t, st.Rows)
	assert.NotEmpty(t, st.Facts().Open, "every list says that it may be incomplete")

	// A card's number without a form is no answer.
	form := whichForm(forms[1], "1")
	form.Del("sheet")
	form.Set("asked", fmt.Sprint(forms[0].ID))
	a := p.send("/which", form)
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, "Choose the form")
	st, _ = b.Load()
	assert.Empty(t, st.Rows)

	form = whichForm(forms[1], "1")
	form.Set("asked", fmt.Sprint(forms[0].ID))
	a = p.send("/which", form)
	require.Equal(t, http.StatusOK, a.status, a.body)
	assert.NotContains(t, a.body, "Which form is this?")
	st, _ = b.Load()
	assert.Empty(t, st.Unnamed)
	require.Len(t, st.Rows, 1)
	assert.Equal(t, forms[1].ID, st.Rows[0].Sheet.ID)
	assert.Equal(t, http.StatusConflict, p.send("/which", whichForm(forms[0], "2")).status, "nobody asks for the other form any more")

	// Taken back, both are asked about again.
	a = p.send("/which", url.Values{"sheet": {fmt.Sprint(forms[1].ID)}, "do": {"not"}})
	assert.Contains(t, a.body, "Which form is this?")
	st, _ = b.Load()
	assert.Empty(t, st.Rows)
	assert.Len(t, st.Unnamed, 2)
}

// Whoever typed a row of the paper straightened as one form has not looked at the other form's row, and whoever saw the
// text under one form's card has it not unseen under the other's.
func TestWhich_AnotherFormIsSaid_LooksAreNotCarriedOver(t *testing.T) {
	b := stacktest.New(t)
	forms := forkedCard(t, b, "league.jpg")
	ada := sit(t, open(t, b), "Ada")
	require.Equal(t, http.StatusOK, ada.send("/which", whichForm(forms[0], "1")).status)
	require.Equal(t, http.StatusOK, ada.get("/card/run1/Blue/card-1").status)
	require.NoError(t, b.Store.Serve(t.Context(), store.Served{Session: "x", Person: "Ada", Readings: []string{stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)}, Sheet: forms[0].ID, Reveals: true, What: "test"}))
	ada.send("/which", url.Values{"sheet": {fmt.Sprint(forms[0].ID)}, "do": {"not"}})
	require.Equal(t, http.StatusOK, ada.send("/which", whichForm(forms[1], "2")).status)
	assert.True(t, shown(t, b, "Ada", stacktest.Key("Blue", 2, 1, sheetmodel.PartBib)))
}

// Two copies of a race in which each form has got a name: none counts.
func TestWhich_BothFormsAreSaid_NoneCounts(t *testing.T) {
	b := stacktest.New(t)
	for i, s := range forkedCard(t, b, "league.jpg") {
		value := store.CardName(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: i + 1})
		require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: store.WhichCard(s.Photo, s.Part), Value: value, By: "Ada"}))
	}
	st, _ := b.Load()
	assert.Empty(t, st.Rows)
	assert.Len(t, st.Unnamed, 2)

	// Said once more, it counts, and the other form's name is gone.
	p := sit(t, open(t, b), "Ada")
	require.Equal(t, http.StatusOK, p.send("/which", whichForm(st.Unnamed[1], "2")).status)
	st, _ = b.Load()
	assert.Empty(t, st.Unnamed)
	require.Len(t, st.Rows, 1)
	assert.Equal(t, ref(2, 1), st.Rows[0].Ref)
}

// What was said while the form was certain is no answer once a reader doubts it, and what was said of one form is not said
// of the other once a reader is certain of that one.
func TestWhich_NewerReaderDoubtsTheForm_ItIsAsked(t *testing.T) {
	b := stacktest.New(t)
	forms := forkedCard(t, b, "league.jpg")
	again := func(reader string, as ...int) []store.Sheet {
		var all []store.NewSheet
		for n, i := range as {
			s := forms[i]
			one := store.NewSheet{Part: n + 1, Identity: sheetmodel.Identity{Side: s.Side, Race: s.Race}, Layout: s.Layout, Corners: s.Corners, Read: s.Read}
			one.Read.Plain = &store.PlainCard{OneSided: true}
			if len(as) > 1 {
				one.Read.Plain.Or = []int{2 - n}
			}
			all = append(all, one)
		}
		require.NoError(t, b.Store.AddSheets(context.Background(), forms[0].Photo, reader, all))
		sheets, err := b.Store.Sheets(t.Context())
		require.NoError(t, err)
		return sheets
	}
	p := sit(t, open(t, b), "Ada")
	require.Equal(t, http.StatusOK, p.send("/which", whichForm(forms[1], "1")).status)
	sheets := again("reader 2", 1, 0) // found in another order: still what was said
	require.Len(t, sheets, 1)
	assert.Equal(t, forms[1].Layout, sheets[0].Layout)
	assert.True(t, sheets[0].Named())

	sheets = again("reader 3", 0) // certain of the other one
	require.Len(t, sheets, 1)
	assert.Equal(t, forms[0].Layout, sheets[0].Layout)
	assert.False(t, sheets[0].Named())

	require.Equal(t, http.StatusOK, p.send("/which", whichForm(sheets[0], "2")).status)
	sheets = again("reader 4", 0, 1)
	assert.Len(t, sheets, 2, "each form has been named by now")
	for _, s := range sheets {
		assert.False(t, s.Named())
	}
}

// One form's name is taken back, the paper is named as the other form: the first is not put back, for then neither would count. Whoever
// was shown the text meanwhile, as the other form, is not unseen under the name that is put back. Source: design, section 5.6.
func TestWhich_PutBack(t *testing.T) {
	b := stacktest.New(t)
	forms := forkedCard(t, b, "league.jpg")
	ada, bo := sit(t, open(t, b), "Ada"), sit(t, open(t, b), "Bo")
	back := func(i int) {
		t.Helper()
		require.Equal(t, http.StatusOK, ada.send("/questions", url.Values{"question": {store.WhichCard(forms[i].Photo, forms[i].Part)}, "do": {"again"}}).status)
	}
	require.Equal(t, http.StatusOK, ada.send("/which", whichForm(forms[0], "1")).status)
	back(0)
	require.Equal(t, http.StatusOK, bo.send("/which", whichForm(forms[1], "2")).status)
	again := ada.send("/redo", url.Values{})
	assert.Equal(t, http.StatusConflict, again.status)
	assert.Contains(t, again.body, "named as another form")
	st, _ := b.Load()
	require.Len(t, st.Rows, 1)
	assert.Equal(t, ref(2, 1), st.Rows[0].Ref)

	key := stacktest.Key("Blue", 2, 1, sheetmodel.PartBib)
	require.NoError(t, b.Store.Serve(t.Context(), store.Served{Session: "x", Person: "Cy", Readings: []string{key}, Sheet: forms[1].ID, Reveals: true, What: "test"}))
	require.Equal(t, http.StatusOK, bo.send("/questions", url.Values{"question": {store.WhichCard(forms[1].Photo, forms[1].Part)}, "do": {"again"}}).status)
	require.Equal(t, http.StatusOK, ada.send("/redo", url.Values{}).status)
	st, _ = b.Load()
	require.Len(t, st.Rows, 1)
	require.Equal(t, ref(1, 1), st.Rows[0].Ref)
	cy := sit(t, open(t, b), "Cy")
	cy.typed(cy.get(bibPage(1, 1)), "14", "paper")
	st, _ = b.Load()
	assert.NotEqual(t, sheetmodel.BibTwoLooks, st.Row(ref(1, 1)).BibState)
	assert.True(t, shown(t, b, "Cy", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)), "and is asked to type no more of it")

	// Another photo has that number by now: whether it is the same paper, nobody has said.
	back(0)
	other := plainCard(t, b, "other.jpg", sheetmodel.CardKey{}, stacktest.Row{Bib: "31", Code: "F", Gate: "7"})
	require.Equal(t, http.StatusOK, bo.send("/which", whichForm(other, "1")).status)
	again = ada.send("/redo", url.Values{})
	assert.Equal(t, http.StatusConflict, again.status)
	assert.Contains(t, again.body, "another photo is card 1 by now")
}

// A row was marked while the paper was taken for one form, and it gets the same number as the other: where that row is there, a
// person says, and until then no row of it counts. Source: our own logic.
func TestWhich_MarkedAsOneForm_IsAskedAboutAsTheOther(t *testing.T) {
	b := stacktest.New(t)
	forms := forkedCard(t, b, "league.jpg")
	ada := sit(t, open(t, b), "Ada")
	require.Equal(t, http.StatusOK, ada.send("/which", whichForm(forms[0], "1")).status)
	require.Equal(t, http.StatusOK, ada.send("/strike/run1/Blue/card-1", url.Values{"row": {"1"}, "note": {"the judge, at the finish"}}).status)
	st, _ := b.Load()
	require.True(t, st.Row(ref(1, 1)).Struck)
	ada.send("/which", url.Values{"sheet": {fmt.Sprint(forms[0].ID)}, "do": {"not"}})
	require.Equal(t, http.StatusOK, ada.send("/which", whichForm(forms[1], "1")).status)
	b.Ask("Bo", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "41")
	st, _ = b.Load()
	q := open2(st)
	require.NotNil(t, q)
	assert.Contains(t, q.Ask, "taken for another form")
	assert.NotContains(t, q.Ask, "another sheet of paper")
	assert.Equal(t, sheetmodel.BibWaiting, st.Row(ref(1, 1)).BibState)
	assert.NotEmpty(t, st.Facts().Open)
	page := ada.get("/questions")
	assert.Equal(t, http.StatusOK, page.status)
	assert.Contains(t, page.body, "taken for another form")
	require.Equal(t, http.StatusOK, ada.send("/questions", url.Values{"question": {q.Key}, "answer": {stack.AnswerSeen}, "note": {"I, from the paper"}}).status)
	st, _ = b.Load()
	assert.Nil(t, open2(st))
	assert.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(1, 1)).BibState)

	// The first form again: the mark is its own.
	ada.send("/which", url.Values{"sheet": {fmt.Sprint(forms[1].ID)}, "do": {"not"}})
	require.Equal(t, http.StatusOK, ada.send("/which", whichForm(forms[0], "1")).status)
	st, _ = b.Load()
	assert.True(t, st.Row(ref(1, 1)).Struck)
}
