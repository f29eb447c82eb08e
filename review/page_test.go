package review_test

import (
	"bytes"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

var storeRefusal = store.Refusal{Fault: "row", Detail: "row 10 is outside the picture", Remedy: "step back and retake with the whole card in view"}

var pages = []string{"/who", "/", "/next", "/questions", "/tour", "/draft", "/why", "/why?bib=14", "/posting", "/heard", "/packet", "/packet?bib=14", "/packet/pdf?bib=14", "/spot", "/card/run1/Blue/card-3", "/card/run1/Blue/card-6", "/draft/draft.pdf", "/draft/draft.csv", "/draft/draft.json"}

func TestPages_FullAndEmpty_AllAnswer(t *testing.T) {
	for name, b := range map[string]*stacktest.Table{"full": afternoon(t), "empty": stacktest.New(t)} {
		t.Run(name, func(t *testing.T) {
			p := sit(t, open(t, b), "Cleo")
			for _, path := range pages {
				a := p.get(path)
				assert.Equal(t, http.StatusOK, a.status, "%s: %s", path, a.body)
				assert.Equal(t, "no-store", a.header.Get("Cache-Control"), path)
				assert.Contains(t, a.header.Get("Content-Security-Policy"), "default-src 'self'", path)
			}
		})
	}
	race := stacktest.New(t)
	race.Race.Runs = nil
	assert.Contains(t, sit(t, open(t, race), "Cleo").get("/").body, "No card is expected and none is in. To begin:")
}

// typed fills the form of an entry's page.
func (p *person) typed(a answer, text, how string) answer {
	p.t.Helper()
	return p.filled(a, url.Values{"text": {text}, "how": {how}, "do": {"settle"}})
}

func (p *person) filled(a answer, form url.Values) answer {
	p.t.Helper()
	action := regexp.MustCompile(`<form method="post" action="(/entry/[^"]+)"`).FindStringSubmatch(a.body)
	require.NotNil(p.t, action, a.body)
	sheet := regexp.MustCompile(`name="sheet" value="(\d+)"`).FindStringSubmatch(a.body)
	require.NotNil(p.t, sheet)
	form.Set("sheet", sheet[1])
	return p.send(action[1], form)
}

func bibPage(card, row int) string {
	return "/entry/" + stacktest.Key("Blue", card, row, sheetmodel.PartBib)
}

func TestEntry_TypedAsTheMachineRead_IsSettledAndTheNextComes(t *testing.T) {
	b := afternoon(t)
	p := sit(t, open(t, b), "Cleo")
	first := p.get("/next")
	assert.Equal(t, bibPage(1, 2), first.path)
	next := p.typed(first, " 9 ", "paper")
	assert.Equal(t, bibPage(2, 2), next.path)
	assert.Contains(t, next.body, "Card 1 row 2: 9 settled, two looks agree.")
	assert.NotContains(t, p.get(next.path).body, "Card 1 row 2", "it is said once")
	assert.Contains(t, p.get("/draft").body, `<span class="bib">9</span>`)
}

func TestEntry_TypedOtherwise_NeedsASecondPersonAndTellsNothing(t *testing.T) {
	b := afternoon(t)
	server := open(t, b)
	cleo := sit(t, server, "Cleo")
	next := cleo.typed(cleo.get(bibPage(1, 2)), "4", "paper")
	assert.Contains(t, next.body, "4 kept. It needs a second person, or the judge.")
	assert.NotEqual(t, bibPage(1, 2), next.path)
	mine := cleo.get(bibPage(1, 2))
	assert.Contains(t, mine.body, "You have typed this one.")
	for _, page := range []answer{next, mine, cleo.get("/draft")} {
		assert.NotContains(t, page.body, `>9<`)
	}
	// The same person under another spelling is no second person.
	again := sit(t, server, " cLEO ")
	assert.Contains(t, again.get(bibPage(1, 2)).body, "You have typed this one.")

	dora := sit(t, server, "Dora")
	page := dora.get(bibPage(1, 2))
	assert.Contains(t, page.body, "Another person&#39;s eyes are needed.")
	dora.typed(page, "9", "paper")
	s, _ := b.Load()
	assert.Equal(t, sheetmodel.BibTwoLooks, s.Row(ref(1, 2)).BibState)
	assert.Equal(t, "9", s.Row(ref(1, 2)).Bib)
}

func ref(card, row int) sheetmodel.RowRef {
	return sheetmodel.RowRef{CardKey: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card}, Row: row}
}

func TestEntry_InkWithARival_AsksTheJudge(t *testing.T) {
	b := afternoon(t)
	p := sit(t, open(t, b), "Cleo")
	page := p.get(bibPage(3, 1))
	assert.Contains(t, page.body, "Only the judge knows what was meant")
	assert.Contains(t, page.body, "Ask Quirin Snowbasket what stands in this row, and say no number yourself, not even as a guess.")
	assert.NotContains(t, page.body, ` checked`, "whoever types must say that the judge spoke; nothing is chosen beforehand")
	p.typed(page, "46", "asked")
	s, _ := b.Load()
	assert.Equal(t, sheetmodel.BibTwoLooks, s.Row(ref(3, 1)).BibState)
}

func TestEntry_JudgeReadsAloud_StaysChosenForTheSameCard(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "9", Code: "F", Gate: "3"}, stacktest.Row{Bib: "14", Code: "F", Gate: "4"})
	b.Card("Blue", 2, stacktest.Row{Bib: "30", Code: "F", Gate: "8"})
	p := sit(t, open(t, b), "Cleo")
	second := p.typed(p.get("/next"), "9", "aloud")
	assert.Regexp(t, `value="aloud" checked`, second.body)
	other := p.typed(second, "14", "aloud")
	assert.Equal(t, bibPage(2, 1), other.path)
	assert.Regexp(t, `value="paper" checked`, other.body)
	s, _ := b.Load()
	looks := s.Row(ref(1, 1)).BibSeen.Seen.Looks
	require.Len(t, looks, 2)
	assert.Equal(t, sheetmodel.LookReadBack, looks[1].Kind)
}

func TestEntry_Undone_IsNoLookAnyMore(t *testing.T) {
	b := afternoon(t)
	p := sit(t, open(t, b), "Cleo")
	next := p.typed(p.get(bibPage(1, 2)), "9", "paper")
	id := regexp.MustCompile(`name="decision" value="(\d+)"`).FindStringSubmatch(next.body)
	require.NotNil(t, id)
	back := p.send("/undo", url.Values{"decision": {id[1]}})
	assert.Equal(t, bibPage(1, 2), back.path)
	p.typed(back, "9", "paper")
	s, _ := b.Load()
	assert.Equal(t, sheetmodel.BibOneLook, s.Row(ref(1, 2)).BibState)
	assert.Equal(t, http.StatusNotFound, p.send("/undo", url.Values{"decision": {"999999"}}).status)
}

func TestEntry_SetAside_NeedsAReasonAndGoesToTheReferee(t *testing.T) {
	b := afternoon(t)
	p := sit(t, open(t, b), "Cleo")
	page := p.get(bibPage(3, 1))
	assert.Equal(t, http.StatusUnprocessableEntity, p.filled(page, url.Values{"do": {"aside"}}).status)
	assert.Equal(t, http.StatusUnprocessableEntity, p.filled(page, url.Values{"do": {"aside"}, "note": {"\u202e\u200b"}}).status, "nothing that shows")
	p.filled(page, url.Values{"do": {"aside"}, "note": {"the judge\nis\u202e not sure" + strings.Repeat(" at all", 3000)}})
	body := p.get("/draft").body
	assert.Contains(t, body, "bib doubtful: 46 or 41")
	assert.Contains(t, body, "the judge is not sure")
	assert.NotContains(t, body, strings.Repeat(" at all", 60), "a reason, not a book")
}

func TestEntry_SlipsOfTheKeyboard_AreAskedAboutOnce(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	page := p.get(bibPage(1, 2))
	for _, bad := range []url.Values{{"do": {"settle"}, "how": {"paper"}}, {"do": {"settle"}, "text": {"9"}}, {"do": {"settle"}, "text": {"9-"}, "how": {"paper"}}} {
		assert.Equal(t, http.StatusUnprocessableEntity, p.filled(page, bad).status, "%v", bad)
	}
	long := strings.Repeat("9", 20000)
	a := p.filled(page, url.Values{"do": {"settle"}, "text": {long}, "how": {"paper"}, "sure": {long}})
	assert.Equal(t, http.StatusUnprocessableEntity, a.status, "no list is made for that")
	assert.Less(t, len(a.body), 30000)
	kept := p.filled(page, url.Values{"do": {"settle"}, "text": {"9-"}, "how": {"paper"}, "sure": {"9-"}})
	assert.Equal(t, http.StatusOK, kept.status)
	assert.Contains(t, kept.body, "9- kept")
	assert.Equal(t, http.StatusBadRequest, p.send(bibPage(2, 2), url.Values{"do": {"settle"}, "text": {"40"}, "how": {"paper"}}).status, "a form that names no photo")
}

func TestEntry_LeftForLater_ComesLast(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	first := p.get("/next")
	second := p.filled(first, url.Values{"do": {"later"}})
	assert.NotEqual(t, first.path, second.path)
	assert.Equal(t, second.path, p.get("/next").path)
}

func TestQuestions_ComeWhenTheirBibsAreTyped_AndAreAnswered(t *testing.T) {
	b := afternoon(t)
	server := open(t, b)
	p := sit(t, server, "Cleo")
	assert.NotContains(t, p.get("/questions").body, "How many different losses were there?")
	p.typed(p.get(bibPage(2, 2)), "40", "paper")
	assert.NotContains(t, p.get("/questions").body, "How many different losses were there?", "the other bib may still be typed unseen")
	p.typed(p.get(bibPage(3, 3)), "40", "paper")
	page := p.get("/questions")
	assert.Contains(t, page.body, "How many different losses were there?")
	assert.Contains(t, page.body, `<img src="/ink/`)
	assert.Contains(t, page.body, `<p class="basis">local rule no. 1</p>`)
	draft := p.get("/draft").body
	assert.Contains(t, draft, `<span class="basis">ICR 666</span>`)
	assert.Contains(t, draft, `<span class="basis">gatefold&#39;s own check, no article</span>`)
	assert.NotContains(t, draft, "own logic")
	key := regexp.MustCompile(`name="question" value="([^"]+)"`).FindAllStringSubmatch(page.body, -1)
	require.NotEmpty(t, key)
	assert.Equal(t, http.StatusConflict, p.send("/questions", url.Values{"question": {key[0][1]}, "answer": {"17"}}).status)
	kept := p.send("/questions", url.Values{"question": {key[0][1]}, "answer": {"2"}, "note": {"the jury"}})
	assert.Contains(t, kept.body, `name="do" value="again"`, "a slip can be taken back at once")
	assert.Contains(t, p.get("/draft").body, `<article class="call"><header><span class="bib">40</span>`)

	// Another person sees who answered what, and takes it back: the call falls, the question is asked again.
	other := sit(t, server, "Dora")
	page = other.get("/questions")
	assert.Contains(t, page.body, "<strong>two losses</strong>")
	assert.Regexp(t, `Cleo, \d\d:\d\d:\d\d: the jury`, page.body)
	page = other.send("/questions", url.Values{"question": {key[0][1]}, "do": {"again"}})
	assert.Contains(t, page.body, "How many different losses were there?")
	assert.NotContains(t, page.body, "<strong>two losses</strong>")
	assert.NotContains(t, other.get("/draft").body, `<article class="call"><header><span class="bib">40</span>`)
	assert.Equal(t, http.StatusConflict, other.send("/questions", url.Values{"question": {key[0][1]}, "do": {"again"}}).status)
	answers, err := b.Store.Answers(t.Context())
	require.NoError(t, err)
	assert.Len(t, answers, 2, "both stay in the log")
}

func TestQuestions_AnAnswerOnABibThatWaits_IsNotToldToWhoMayTypeIt(t *testing.T) {
	b := afternoon(t)
	server := open(t, b)
	p := sit(t, server, "Cleo")
	p.typed(p.get(bibPage(2, 2)), "40", "paper")
	p.typed(p.get(bibPage(3, 3)), "40", "paper")
	key := regexp.MustCompile(`name="question" value="([^"]+)"`).FindStringSubmatch(p.get("/questions").body)
	require.NotNil(t, key)
	p.send("/questions", url.Values{"question": {key[1]}, "answer": {"2"}, "note": {"the jury"}})
	require.Contains(t, p.get("/questions").body, "<strong>two losses</strong>")
	s, _ := b.Load()
	last := s.Decisions[len(s.Decisions)-1]
	require.Equal(t, "40", last.Text)
	p.send("/undo", url.Values{"decision": {strconv.FormatInt(last.ID, 10)}})
	page := sit(t, server, "Dora").get("/questions").body
	assert.NotContains(t, page, "<strong>two losses</strong>")
}

func TestCard_GapClosedWithAReason_AndOpenedAgain(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	assert.Equal(t, http.StatusUnprocessableEntity, p.send("/gap/run1/Blue/card-6", url.Values{"do": {"close"}}).status)
	p.send("/gap/run1/Blue/card-6", url.Values{"do": {"close"}, "reason": {"blown away, judge saw nothing"}})
	assert.Contains(t, p.get("/").body, "not coming: blown away, judge saw nothing")
	p.send("/gap/run1/Blue/card-6", url.Values{"do": {"open"}})
	assert.NotContains(t, p.get("/").body, "blown away")

	// The reasons that come up are there to choose; words may follow. Source of the reasons: common practice, no source.
	for _, r := range []string{"the card is lost", "nobody stood there", "a neighbour watched its gates", "its judge told the referee by word of mouth; that is a remark, never a call"} {
		assert.Contains(t, p.get("/card/run1/Blue/card-6").body, "> "+r+"</label>")
	}
	p.send("/gap/run1/Blue/card-6", url.Values{"do": {"close"}, "why": {"nobody"}})
	assert.Contains(t, p.get("/").body, "not coming: nobody stood there<")
	p.send("/gap/run1/Blue/card-6", url.Values{"do": {"close"}, "why": {"lost"}, "reason": {"blown away"}})
	assert.Contains(t, p.get("/").body, "not coming: the card is lost: blown away")
	assert.Contains(t, p.get("/draft").body, "the card is lost: blown away", "the referee reads it")
	assert.Equal(t, http.StatusUnprocessableEntity, p.send("/gap/run1/Blue/card-6", url.Values{"do": {"close"}, "why": {"other"}}).status)
}

// A photo of the back alone brings in no rows: the card stays missing, its gates stay open, nobody is asked whether its
// rows are all there are, and its gap can be closed. Source: our own logic.
func TestCard_BackAlone_IsMissingUntilItsFrontIsIn(t *testing.T) {
	b := stacktest.New(t)
	back := b.Sheets("Blue", 5)[1]
	photo, _, err := b.Store.AddPhoto(t.Context(), "back.png", bytes.NewReader(back.Page), int64(len(back.Page)), time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "test reader", []store.NewSheet{back}))
	p := sit(t, open(t, b), "Cleo")
	stack := p.get("/").body
	assert.Contains(t, stack, "front missing")
	assert.Contains(t, stack, "12 cards missing")
	assert.NotContains(t, stack, ">none")
	assert.NotContains(t, p.get("/questions").body, "Are the rows on this card all there are?")
	assert.Contains(t, p.get("/draft").body, "Card 5 (B5, gates 24-29): no photo of its front, where the rows are.")
	assert.Contains(t, p.get("/card/run1/Blue/card-5").body, "back; the front is missing")
	p.send("/gap/run1/Blue/card-5", url.Values{"do": {"close"}, "why": {"lost"}})
	assert.Contains(t, p.get("/draft").body, "the card is lost")
	assert.NotContains(t, p.get("/draft").body, "no photo of its front")

	// Its front comes all the same.
	front := b.Sheets("Blue", 5, stacktest.Row{Bib: "14", Code: "F", Gate: "25", Panel: "B"})[0]
	photo, _, err = b.Store.AddPhoto(t.Context(), "front.png", bytes.NewReader(front.Page), int64(len(front.Page)), time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "test reader", []store.NewSheet{front}))
	assert.Contains(t, p.get("/").body, "11 cards missing")
}

func TestCard_TypedFromPaper_TwoPeopleTypeEachBib(t *testing.T) {
	b := afternoon(t)
	server := open(t, b)
	p := sit(t, server, "Cleo")
	assert.Equal(t, http.StatusUnprocessableEntity, p.send("/paper/run1/Blue/card-6", url.Values{"rows": {"many"}}).status)
	p.send("/paper/run1/Blue/card-6", url.Values{"rows": {"1"}})
	for _, who := range []*person{p, sit(t, server, "Dora")} {
		for _, box := range []struct {
			part sheetmodel.Part
			text string
		}{{sheetmodel.PartBib, "19"}, {sheetmodel.PartCode, "F"}, {sheetmodel.PartGate, "31"}} {
			page := who.get("/entry/" + stacktest.Key("Blue", 6, 1, box.part))
			if strings.HasSuffix(page.path, "."+string(box.part)) && strings.Contains(page.body, "type from the card itself") { // what is settled leads on
				who.typed(page, box.text, "paper")
			}
		}
	}
	s, _ := b.Load()
	assert.Equal(t, sheetmodel.BibTwoLooks, s.Row(ref(6, 1)).BibState)
	assert.Contains(t, p.get("/draft").body, "No picture, see the paper.")
}

// What the lines of a header may say stands beside their picture, as a question. It places nobody, and a name that is
// no judge's is not said.
func TestCard_HeaderRead_IsOnlyMayBe(t *testing.T) {
	b := stacktest.New(t)
	b.Header = map[string]string{"header.judge": "Runa Hazelspoon", "header.phone": "5550199"}
	b.Card("Blue", 1, stacktest.Row{Bib: "9", Code: "F", Gate: "3"})
	b.Header = map[string]string{"header.judge": "Somebody Else"}
	b.Card("Blue", 2, stacktest.Row{Bib: "10", Code: "F", Gate: "7"})
	p := sit(t, open(t, b), "Cleo")
	page := p.get("/card/run1/Blue/card-1").body
	assert.Contains(t, page, `judge <span class="maybe">Runa Hazelspoon</span>?`)
	assert.Contains(t, page, `phone <span class="maybe">5550199</span>?`)
	assert.Contains(t, page, "<dd>Olli Fernbucket</dd>", "its judge is who the race places there")
	assert.NotContains(t, page, `tel:5550199`, "nobody rings what was only read")
	assert.NotContains(t, p.get("/card/run1/Blue/card-2").body, "Somebody Else")
	for _, path := range []string{"/", "/draft", "/entry/" + stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)} {
		assert.NotContains(t, p.get(path).body, "5550199", path)
	}
	s, _ := b.Load()
	assert.Equal(t, "Olli Fernbucket", s.Card(ref(1, 1).CardKey).Judge)
	assert.Equal(t, "555-0101", s.Card(ref(1, 1).CardKey).Phone)
}

// Run 2 has no placing list yet: its cards are bound by what their headers say.
func TestCard_HeaderConfirmed_BindsTheCard(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "9", Code: "F", Gate: "3"})
	course := b.Race.Run(1).Course("Blue")
	course.Places, b.Race.Run(1).Course("Red").Places = nil, nil
	p := sit(t, open(t, b), "Cleo")
	assert.Contains(t, p.get("/").body, "confirm the header")
	page := p.get("/card/run1/Blue/card-1")
	assert.Contains(t, page.body, "Confirm what the header says")
	wrong := p.send("/bind/run1/Blue/card-1", url.Values{"gates": {"6-1"}, "judge": {"Olli"}})
	assert.Equal(t, http.StatusUnprocessableEntity, wrong.status)
	assert.Contains(t, wrong.body, `value="6-1"`)
	p.send("/bind/run1/Blue/card-1", url.Values{"gates": {"1-6"}, "judge": {"Olli Fernbucket"}})
	s, _ := b.Load()
	assert.Equal(t, []string{"1", "2", "3", "4", "5", "6"}, s.Cards[0].Gates)
	body := p.get("/").body
	assert.Contains(t, body, "1–6")
	assert.Contains(t, body, "Nobody's card covers this.")
}

// Whoever typed the gates of a header wrongly can say it again, whatever else is known of the card by then: the newer word counts.
// Source: our own logic.
func TestCard_HeaderConfirmedWrongly_IsConfirmedAnew(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 13, stacktest.Row{Bib: "14", Code: "F", Gate: "17", Panel: "B"})
	p := sit(t, open(t, b), "Cleo")
	bind := func(gates string) answer {
		page := p.get("/card/run1/Blue/card-13").body
		require.Contains(t, page, `action="/bind/run1/Blue/card-13"`)
		front := regexp.MustCompile(`name="front" value="(\d+)"`).FindStringSubmatch(page)
		require.NotNil(t, front)
		return p.send("/bind/run1/Blue/card-13", url.Values{"gates": {gates}, "judge": {"Ida"}, "front": front[1:]})
	}
	require.Equal(t, http.StatusOK, bind("1-6").status)
	assert.Contains(t, p.get("/questions").body, "but its judge watches gates 1-6")
	require.Equal(t, http.StatusOK, bind("16-21").status)
	assert.NotContains(t, p.get("/questions").body, "but its judge watches")
	st, _ := b.Load()
	assert.Equal(t, []string{"16", "17", "18", "19", "20", "21"}, st.Card(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 13}).Gates)
}

func TestDesk_StrangersAndOtherSites_AreTurnedAway(t *testing.T) {
	server := open(t, afternoon(t))
	p := sit(t, server, "Cleo")
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, server.URL+bibPage(1, 2), strings.NewReader("do=later"))
	require.NoError(t, err)
	r.Header.Set("Origin", "https://elsewhere.example")
	assert.Equal(t, http.StatusForbidden, p.do(r).status)

	r, err = http.NewRequestWithContext(t.Context(), http.MethodGet, server.URL+"/", nil)
	require.NoError(t, err)
	r.Host = "elsewhere.example"
	assert.Equal(t, http.StatusForbidden, p.do(r).status)

	nobody := &person{t: t, base: server.URL, http: http.DefaultClient}
	assert.Equal(t, "/who", nobody.get("/draft").path)
	assert.Equal(t, http.StatusUnauthorized, nobody.send(bibPage(1, 2), url.Values{"do": {"later"}}).status)
	assert.Equal(t, http.StatusUnprocessableEntity, nobody.send("/who", url.Values{"name": {" \x00 "}}).status)
	assert.Equal(t, "/", p.send("/who", url.Values{"name": {"Cleo"}, "to": {"//elsewhere.example"}}).path)

	for path, want := range map[string]int{
		"/nowhere": http.StatusNotFound, "/ink/77777/side": http.StatusNotFound, "/ink/x/side": http.StatusNotFound, "/draft/draft.exe": http.StatusNotFound,
		"/card/run9/Blue/card-1": http.StatusNotFound, "/entry/run1/Blue/card-1/front/row-09.bib": http.StatusNotFound, "/static/embed.go": http.StatusNotFound,
	} {
		assert.Equal(t, want, p.get(path).status, path)
	}
	long := p.send(bibPage(1, 2), url.Values{"note": {strings.Repeat("x", 80<<10)}})
	assert.Equal(t, http.StatusRequestEntityTooLarge, long.status)
}

// Two photos of a side that differ: nothing of their rows is asked until a person says which counts.
func TestQuestions_TwoPhotosOfOneSide(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "9", Code: "F", Gate: "3"})
	b.Card("Blue", 1, stacktest.Row{Bib: "30", Code: "F", Gate: "3"})
	p := sit(t, open(t, b), "Cleo")
	assert.Contains(t, p.get("/").body, "Two photos of the front of card 1 differ in row 1.")
	page := p.get("/next")
	require.Equal(t, "/questions", page.path)
	key := regexp.MustCompile(`name="question" value="([^"]+)"`).FindStringSubmatch(page.body)
	require.NotNil(t, key)
	for _, nobody := range []string{"", "  ", "\u200b"} {
		a := p.send("/questions", url.Values{"question": {key[1]}, "answer": {"earlier"}, "note": {nobody}})
		assert.Equal(t, http.StatusUnprocessableEntity, a.status)
		assert.Contains(t, a.body, "whose word this is")
	}
	answers, err := b.Store.Answers(t.Context())
	require.NoError(t, err)
	assert.Empty(t, answers, "an answer without somebody's word is not kept")
	assert.Equal(t, "/questions", p.send("/questions", url.Values{"question": {key[1]}, "answer": {"earlier"}, "note": {"I, from the paper"}}).path, "the drawing is asked for next")
	next := p.get("/next")
	assert.Equal(t, bibPage(1, 1), next.path)
	assert.Contains(t, p.typed(next, "9", "paper").body, "9 settled, two looks agree.")
}
