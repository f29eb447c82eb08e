package review_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Two rows are counted and typed from the paper, then one: the second is asked about on its page.
func TestQuestions_RowTypedBefore_IsAskedWithoutAPicture(t *testing.T) {
	b := stacktest.New(t)
	p := sit(t, open(t, b), "Cleo")
	p.send("/paper/run1/Blue/card-6", url.Values{"rows": {"2"}})
	p.typed(p.get("/entry/"+stacktest.Key("Blue", 6, 2, sheetmodel.PartBib)), "19", "paper")
	p.send("/paper/run1/Blue/card-6", url.Values{"rows": {"1"}})
	body := p.get("/questions").body
	assert.Contains(t, body, "Row 2 of card 6 was entered before")
	assert.NotContains(t, body, "/ink/0/")
	st, _ := b.Load()
	a := p.send("/questions", url.Values{"question": {st.Questions[0].Key}, "answer": {stack.AnswerNotThere}, "note": {"I, from the paper"}})
	assert.Equal(t, http.StatusOK, a.status, a.body)
	st, _ = b.Load()
	assert.Equal(t, sheetmodel.BibSetAside, st.Row(ref(6, 2)).BibState)
}

// The paper is in somebody's hand: its rows come one after the other, though other cards wait too.
func TestPaper_ItsEntries_ComeInARow(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	page := p.send("/paper/run1/Blue/card-6", url.Values{"rows": {"2"}})
	for _, part := range []sheetmodel.Part{sheetmodel.PartBib, sheetmodel.PartCode, sheetmodel.PartGate} {
		require.Equal(t, "/entry/"+stacktest.Key("Blue", 6, 1, part), page.path)
		page = p.typed(page, map[sheetmodel.Part]string{sheetmodel.PartBib: "19", sheetmodel.PartCode: "F", sheetmodel.PartGate: "31"}[part], "paper")
	}
	assert.Equal(t, "/entry/"+stacktest.Key("Blue", 6, 2, sheetmodel.PartBib), page.path)
	for _, text := range []string{"27", "K", "32"} {
		page = p.typed(page, text, "paper")
	}
	assert.NotContains(t, page.path, "card-6", "the rest needs a second person: other cards come")
}

func TestNext_NothingForThisPerson_IsSaid(t *testing.T) {
	p := sit(t, open(t, stacktest.New(t)), "Cleo")
	page := p.get("/next")
	assert.Equal(t, "/draft", page.path)
	assert.Contains(t, page.body, "No entry waits.")
	page = p.send("/paper/run1/Blue/card-6", url.Values{"rows": {"1"}})
	for _, text := range []string{"19", "F", "31"} {
		page = p.typed(page, text, "paper")
	}
	page = p.get("/next")
	assert.NotContains(t, page.path, "/entry/")
	assert.Contains(t, page.body, "The entries that wait need another person, or the judge")
}

// A photo shows two cards, and one of them can't be trusted.
func TestStack_FurtherCardRefused_IsShown(t *testing.T) {
	b := stacktest.New(t)
	p, _, err := b.Store.AddPhoto(t.Context(), "two-cards.jpg", strings.NewReader("\xff\xd8\xff two"), -1, at)
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), p.ID, "test reader", nil, store.Refusal{Fault: "cut", Detail: "2 of 6 marks seen", Remedy: "retake it by itself"}))
	body := sit(t, open(t, b), "Cleo").get("/").body
	assert.Contains(t, body, "two-cards.jpg, a further card in it")
	assert.Contains(t, body, "Retake it by itself.")
}

// A spare that has the number of a place is bound to nothing else's rows.
func TestBind_OntoAnotherCardsNumber_IsRefused(t *testing.T) {
	b := stacktest.New(t)
	b.Race.Run(1).Course("Blue").Places[0].Card = 201
	spare := sheetmodel.CardKey{Card: 201}
	require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: spare, Rows: 1, By: "Ada"}))
	p := sit(t, open(t, b), "Cleo")
	a := p.send("/bind/spare/card-201", url.Values{"run": {"1"}, "course": {"Blue"}, "gates": {"6"}})
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, "another card 201 is there")
	a = p.send("/bind/spare/card-201", url.Values{"run": {"2"}, "course": {"Blue"}, "gates": {"6"}})
	assert.Equal(t, http.StatusOK, a.status, a.body)
}

// The foot of a card says that no row stands, and one seems to hold specks.
func TestEntry_SpecksOnACardWhoseFootSaysNone_SaysSo(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 2, stacktest.Row{Bib: "30", Code: "F", Gate: "9", Panel: "B"})
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	front := sheets[0]
	grain(&front.Read.Reading.Rows[0])
	front.Read.Reading.Header[0].Text = "0"
	p := sit(t, open(t, b), "Cleo")
	const words = "At the foot of the card its judge wrote that no row stands."
	require.NoError(t, b.Store.AddSheets(t.Context(), front.Photo, "another reader", []store.NewSheet{{
		Part: 1, Card: front.Card, Layout: front.Layout, Read: front.Read,
		Identity: sheetmodel.Identity{Run: 1, Card: 2, Side: sheetmodel.Front, Race: front.Race},
	}}))
	assert.Contains(t, p.get(bibPage(2, 1)).body, words)
}
