package review_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

func TestStack_CardsWithOpenQuestions_AreMarkedAndLinked(t *testing.T) {
	p := sit(t, open(t, twoWritten(t)), "Cleo")
	body := p.get("/").body
	assert.Regexp(t, `<a class="doubt" href="/questions#[^"]+"><span class="sign" aria-hidden="true"></span>1 question</a>`, body)
	assert.Regexp(t, `<a class="doubt" href="/entry/run1/Blue/card-1/front/row-01.bib"><span class="sign" aria-hidden="true"></span>\d+ entr(y|ies) to settle(, in \d rows?)?</a>`, body, "it says what it counts")
	assert.Regexp(t, `<td>\d+ rows? <a`, body)
}

// One photo holds the same side of the same card twice.
func TestStack_DoublesInOnePhoto_AreNamed(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	var twice []store.NewSheet
	for i, s := range append(sheets, sheets[0]) {
		twice = append(twice, store.NewSheet{
			Part: i + 1, Card: s.Card, Layout: s.Layout, Read: s.Read,
			Identity: sheetmodel.Identity{Run: s.Card.Run, Card: s.Card.Card, Side: s.Side, Race: s.Race},
		})
	}
	p := sit(t, open(t, b), "Cleo")
	assert.NotContains(t, p.get("/").body, "twice in photo")
	require.NoError(t, b.Store.AddSheets(t.Context(), sheets[0].Photo, "another reader", twice))
	assert.Contains(t, p.get("/").body, "front twice in photo card-01.png")
}

func TestHead_SaysCompleteOnlyWhereTheDraftDoes(t *testing.T) {
	b := stacktest.New(t)
	none := sheetmodel.BibList{Given: sheetmodel.ListNone}
	b.Race.Courses = []string{"Blue"}
	b.Race.Runs = []sheetmodel.Run{
		{Number: 1, DidNotStart: none, DidNotEnd: none, Reruns: none, Courses: []sheetmodel.CourseRun{{Course: "Blue", Gates: []string{"1", "2"}, Places: []sheetmodel.Place{{Card: 1, Name: "B1", Gates: []string{"1", "2"}}}}}},
		{Number: 2, DidNotStart: none, DidNotEnd: none, Reruns: none, Courses: []sheetmodel.CourseRun{{Course: "Blue"}}},
	}
	b.Card("Blue", 1)
	server := open(t, b)
	p := sit(t, server, "Cleo")
	body := p.get("/").body
	assert.Contains(t, body, "word only. Nothing is open in Blue · run 1. Nobody is placed yet for run 2.", "nobody knows run 2 yet")
	assert.NotContains(t, body, "may go to the referee")
	assert.Contains(t, p.get("/draft").body, "2 things are open</summary>")

	b.Race.Runs = b.Race.Runs[:1]
	body = sit(t, open(t, b), "Cleo").get("/").body
	assert.Contains(t, body, "Nothing is open: the list may go to the referee, as a draft.")
}

// What a photo lacks is said in its card's row, of the photo that counts only.
func TestStack_FlawsOfAPhoto_StandInTheCardsRow(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	p := sit(t, open(t, b), "Cleo")
	assert.NotContains(t, p.get("/").body, "glare")
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	s := sheets[0]
	again := store.NewSheet{
		Part: 1, Card: s.Card, Layout: s.Layout, Read: s.Read,
		Identity: sheetmodel.Identity{Run: s.Card.Run, Card: s.Card.Card, Side: s.Side, Race: s.Race},
		Quality: store.Quality{Flaws: []store.Flaw{{
			Kind: "glare", Fields: []string{"row-03.bib"}, Detail: "glare over rows 3 and 4", Remedy: "tilt the card and take it again",
		}}},
	}
	require.NoError(t, b.Store.AddSheets(t.Context(), s.Photo, "another reader", []store.NewSheet{again}))
	body := p.get("/").body
	assert.Contains(t, body, `</span>front: glare over rows 3 and 4</span> <span class="quiet">tilt the card and take it again</span>`)

	again.Quality.Flaws = nil
	require.NoError(t, b.Store.AddSheets(t.Context(), s.Photo, "a third reader", []store.NewSheet{again}))
	assert.NotContains(t, p.get("/").body, "glare")
}

// A card that watches two stretches leaves out what lies between them: the drawing, its words and the list say so, as the draft does.
// Expected words: our own logic.
func TestStack_GatesBetweenTheStretchesOfOneCard_AreAHole(t *testing.T) {
	b := stacktest.New(t)
	b.Race.Run(1).Course("Blue").Places[0].Gates = []string{"1", "2", "5", "6"}
	b.Card("Blue", 1)
	body := sit(t, open(t, b), "Cleo").get("/").body
	assert.Contains(t, body, "Nobody&#39;s card covers 3–4. Watched from two cards: 6.")
	assert.Contains(t, body, "1–2, 5–6", "what the card watches, and no more")
	assert.NotContains(t, body, "1–6")
	assert.Contains(t, body, "6 from two cards")
	assert.Contains(t, sit(t, open(t, b), "Cleo").get("/draft").body, "Gates 3-4: nobody&#39;s card covers them.")
}
