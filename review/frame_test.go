package review_test

import (
	"errors"
	"html"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

var leftLine = regexp.MustCompile(`(?s)<section class="left".*?</section>`)

// Everything that keeps a draft open is named above each page, in the units in which people work on it. Our own logic.
func TestFrame_LineAboveThePage_NamesAllThatIsOpen(t *testing.T) {
	b := afternoon(t)
	b.Race.Runs[0].Reruns = sheetmodel.BibList{}
	b.Race.Runs[0].DidNotStart = sheetmodel.BibList{Given: sheetmodel.ListUnknown}
	blue := b.Race.Runs[0].Course("Blue")
	blue.Places = blue.Places[:len(blue.Places)-1] // nobody's card covers the last gates
	p := sit(t, open(t, b), "Cleo")
	line := html.UnescapeString(leftLine.FindString(p.get("/draft").body))
	for _, want := range []string{
		"entries to type", "run 1: who did not start is not in race.yaml yet", "run 1: the re-runs are not in race.yaml yet", "1 course has gates that nobody's card covers", "cards missing",
		"Nobody is placed yet for run 2.", "The list goes out on the referee's word only.",
	} {
		assert.Contains(t, line, want)
	}
	assert.NotContains(t, line, "who did not finish", "that list is there")
	assert.Regexp(t, `likely \d+ minutes?<`, line)
	assert.NotContains(t, line, "things are open", "a number in units that nothing beside it has")
}

// What can do most to the draft is typed first: a code that proposes by itself before a lost ski, on whatever card it
// stands. Our own logic.
func TestNext_CodeThatProposesByItself_ComesFirst(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "40", Code: "K", Gate: "3"})
	b.Card("Blue", 2, stacktest.Row{Bib: "40", Code: "K", Gate: "9"})
	b.Card("Blue", 5, stacktest.Row{Bib: "30", Code: "F", Gate: "25", Panel: "B"})
	p := sit(t, open(t, b), "Cleo")
	require.Contains(t, p.get("/").body, "3 entries to type")
	assert.Equal(t, bibPage(5, 1), p.get("/next").path)
}

// Whoever set a row aside and takes that back is told so, and not that they had typed it. Our own logic.
func TestEntry_SetAsideAndTakenBack_IsNotCalledTyped(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	entry := p.get(bibPage(1, 2))
	next := p.filled(entry, formOf("do", "aside", "note", "a smear"))
	undo := regexp.MustCompile(`name="decision" value="(\d+)"`).FindStringSubmatch(next.body)
	require.NotNil(t, undo)
	page := p.send("/undo", formOf("decision", undo[1])).body
	assert.Contains(t, page, "for somebody who has neither typed it nor set it aside")
	page = p.get(bibPage(1, 2)).body
	assert.Contains(t, page, "You have had this one, and set it aside.")
	assert.NotContains(t, page, "You have typed this one.")
}

// All lines were marked at once, and the form came back for the referee's word: they stay marked. Our own logic.
func TestPosting_AllMarked_StayMarkedWhenTheFormComesBack(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	form := postingForm("posted", "12:04", "all", "1", "shown", postedForm("14", "6", "F"))
	form.Del("word")
	a := p.send("/posting", form)
	require.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, `value="`+html.EscapeString(postedForm("14", "6", "F"))+`" checked`)
}

// Whom to hold back is named with a number to call; who is only to look learns neither. Our own logic.
func TestPosting_JudgesWhoStay_HaveNameAndNumberForTheDeskOnly(t *testing.T) {
	h := openHut(t, afternoon(t))
	page := sit(t, h.here, "Cleo").get("/posting").body
	at := strings.Index(page, "Must stay")
	require.Positive(t, at)
	assert.Contains(t, page[at:], "<strong>Olli Fernbucket</strong>")
	assert.Contains(t, page[at:], `href="tel:555-0101"`)
	page = h.pair("Uma", "view").get("/posting").body
	require.Contains(t, page, "Must stay")
	assert.NotContains(t, page, "Fernbucket")
	assert.NotContains(t, page, "555-")
}

// A card that stands elsewhere already is named in words, not by a line of a file. Our own logic.
func TestPlacing_CardThatStandsOnAnotherCourse_IsSaidInWords(t *testing.T) {
	var all []saved
	p := placingHut(t, &all, errors.New("spring/race.yaml:65: run 1, Red, place 1: card 6 already belongs to the place on line 61")).pair("Ida", "photos")
	a := p.send("/placing", formOf("run", "1", "course", "Red", "do", "place", "card", "6", "from", "1", "to", "2"))
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, "Card 6 stands in Blue · run 1 already")
	assert.NotContains(t, a.body, "race.yaml:")
	assert.Empty(t, all)
}

// Whoever stands up is told the same of the race as on every other page, and no news of it that are none. Our own logic.
func TestWho_AtADeskWhereSomebodySits_SaysWhatIsLeft(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	stack, who := p.get("/").body, p.get("/who").body
	require.Contains(t, leftLine.FindString(stack), "entries to type")
	assert.Equal(t, leftLine.FindString(stack), leftLine.FindString(who))
	moment := regexp.MustCompile(`data-live="(\d+)"`)
	assert.Equal(t, moment.FindString(stack), moment.FindString(who), "its script would say at once that something has come in")
}

// Pages for the hands of somebody on the hill begin with their matter; at the laptop the same pages say what is left. Our own logic.
func TestReadBack_AtTheLaptop_SaysWhatIsLeft(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	assert.Contains(t, leftLine.FindString(p.get("/readback").body), "entries to type")
}

// What a question asks, a judge often knows: each picture leads to the page of its card, with judge and phone number. Our own logic.
func TestQuestions_EachPicture_LeadsToItsCard(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 5, stacktest.Row{Bib: "30", Code: "F", Gate: "25"}) // names no drawing
	p := sit(t, open(t, b), "Cleo")
	page := p.get("/questions").body
	require.Contains(t, page, "names no drawing panel")
	require.Contains(t, page, `<figcaption><a href="/card/run1/Blue/card-5">Card 5, row 1</a>`)
	assert.Contains(t, p.get("/card/run1/Blue/card-5").body, `href="tel:`)
}

// Where a course has few gates, a card's bar still begins and ends inside of its drawing, with its number. Our own logic.
func TestStack_CourseOfFewGates_IsDrawnWhole(t *testing.T) {
	b := stacktest.New(t)
	for i := range b.Race.Runs[0].Courses {
		c := &b.Race.Runs[0].Courses[i]
		c.Gates = c.Gates[:12]
		c.Places = c.Places[:2]
		c.Places[0].Gates, c.Places[1].Gates = c.Gates[:7], c.Gates[6:]
	}
	page := sit(t, open(t, b), "Cleo").get("/").body
	bars := regexp.MustCompile(`<rect class="bar [a-z]+" x="([^"]+)" y="[^"]+" width="([^"]+)"`).FindAllStringSubmatch(page, -1)
	require.NotEmpty(t, bars)
	for _, bar := range bars {
		x, err1 := strconv.ParseFloat(bar[1], 64)
		w, err2 := strconv.ParseFloat(bar[2], 64)
		require.NoError(t, errors.Join(err1, err2))
		assert.GreaterOrEqual(t, x, 0.0)
		assert.LessOrEqual(t, x+w, 1000.0, "as wide as the drawing")
	}
}
