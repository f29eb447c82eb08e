package review_test

import (
	"context"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// lostSkis is a race that counts the second lost ski, with a ski lost on card 3 that waits and one on card 2 that is
// clear and reads as other.
func lostSkis(t testing.TB, other string) *stacktest.Table {
	t.Helper()
	b := stacktest.New(t)
	b.Card("Blue", 2, stacktest.Row{Bib: "5983", Code: "K", Gate: "9"})
	b.Card("Blue", 3, stacktest.Row{Bib: "4871", Code: "K", Gate: "16", State: sheetmodel.Doubtful})
	for _, n := range []string{"4871", "5983"} {
		b.Race.Starters = append(b.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: n, Group: "girls"}, Course: "Blue"})
	}
	readAgain(t, b, func(_ sheetmodel.CardKey, r *sheetmodel.Row) {
		if r.Bib.Text == "5983" {
			r.Bib.Text = other // from the same ink
		}
	})
	return b
}

var decisionID = regexp.MustCompile(`name="decision" value="\d+"`)

// Two lost skis, one of them typed: whether the other one reads as the same bib or as another, everything that anybody
// is sent is the same, byte by byte, before and after. So what is asked next tells nothing. Source: our own logic.
func TestAsked_AfterOneLostSkiIsTyped_NothingTellsWhatTheOtherSays(t *testing.T) {
	inFull(t)
	worlds := map[string][]map[string]answer{}
	for _, other := range []string{"4871", "5983"} {
		b := lostSkis(t, other)
		server := open(t, b)
		cleo, dora := sit(t, server, "Cleo"), sit(t, server, "Dora")
		st, result := b.Load()
		require.Len(t, st.Waiting(result), 2, "both are asked about from the beginning")
		next := cleo.typed(cleo.get(bibPage(3, 1)), "4871", "paper")
		assert.Contains(t, next.body, "4871 settled, two looks agree.")
		assert.Equal(t, bibPage(2, 1), next.path)
		assert.Contains(t, next.body, "You have typed another lost ski of this run.")
		for _, p := range []*person{cleo, dora} {
			got := crawl(t, p, st, "/live?once&here=stack", "/live?once&here=draft")
			worlds[other] = append(worlds[other], got)
			if p == dora {
				for path, a := range got {
					assert.Empty(t, leak(a, "4871"), "whoever still has to type the other isn't told which racer has lost one: %s", path)
				}
				assert.Contains(t, got["/draft"].body, "while another lost ski of this run may still have to be typed unseen")
			}
		}
	}
	for i := range 2 {
		a, b := worlds["4871"][i], worlds["5983"][i]
		require.Len(t, b, len(a))
		for path, got := range a {
			assert.Equal(t, got.path, b[path].path, path)
			assert.Equal(t, decisionID.ReplaceAllString(got.body, ""), decisionID.ReplaceAllString(b[path].body, ""), "%s differs", path)
		}
	}
}

// Once both are typed, the record says whose they are.
func TestAsked_BothLostSkisTyped_TheRecordIsShown(t *testing.T) {
	b := lostSkis(t, "5983")
	p := sit(t, open(t, b), "Cleo")
	p.typed(p.get(bibPage(3, 1)), "4871", "paper")
	p.typed(p.get(bibPage(2, 1)), "5983", "paper")
	body := p.get("/draft").body
	assert.Contains(t, body, "4871")
	assert.Contains(t, body, "5983")
}

// listening opens a page that stays open, as a browser does.
func (p *person) listening() {
	p.t.Helper()
	ctx, hangUp := context.WithCancel(p.t.Context())
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, p.base+"/live?here=stack&at=-1", nil)
	require.NoError(p.t, err)
	res, err := p.http.Do(r)
	require.NoError(p.t, err)
	require.Equal(p.t, http.StatusOK, res.StatusCode)
	p.t.Cleanup(func() { hangUp(); _ = res.Body.Close() })
}

// Whoever has typed one lost ski of a run isn't given the next while somebody else is here who has typed none. When
// all have, or nobody else is here, it is given; it can be opened at any time. Source: our own logic.
func TestAsked_AnotherPersonIsHere_TypesTheOtherLostSki(t *testing.T) {
	b := lostSkis(t, "4871")
	b.Card("Blue", 4, stacktest.Row{Bib: "5983", Code: "K", Gate: "22"})
	server := open(t, b)
	cleo, dora := sit(t, server, "Cleo"), sit(t, server, "Dora")
	dora.listening()
	next := cleo.typed(cleo.get(bibPage(3, 1)), "4871", "paper")
	assert.NotContains(t, next.path, "/entry/")
	next = cleo.get("/next")
	assert.Contains(t, next.body, "Somebody else is here who has typed none, and is given them first.")
	assert.Equal(t, bibPage(4, 1), cleo.get(bibPage(4, 1)).path, "it can be opened")
	cleo.send(bibPage(4, 1), url.Values{"sheet": {sheetField.FindStringSubmatch(cleo.get(bibPage(4, 1)).body)[1]}, "do": {"later"}})
	assert.Equal(t, bibPage(2, 1), dora.get("/next").path)
	assert.Equal(t, bibPage(4, 1), dora.typed(dora.get("/next"), "4871", "paper").path, "both have typed one now")
}

// Whoever wrote down that a bib was called at a gate types no row there unseen, whatever its ink says and whichever
// bib was called; rows at other gates they do, and so does anybody else type these. Source: our own logic.
func TestHeard_WhoeverWritesABib_TypesNoRowAtThatGateUnseen(t *testing.T) {
	for _, called := range []string{"4871", "14", "in words"} {
		b := stacktest.New(t)
		b.Card("Blue", 2, stacktest.Row{Bib: "4871", Code: "F", Gate: "9"}, stacktest.Row{Bib: "30", Code: "F", Gate: "11"})
		b.Race.Starters = append(b.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: "4871", Group: "girls"}, Course: "Blue"})
		server := open(t, b)
		cleo, dora := sit(t, server, "Cleo"), sit(t, server, "Dora")
		form := heardForm(called, "9", "")
		if called == "in words" {
			form = heardForm("", "9", "gate 9: number 4871 is out")
		}
		a := cleo.send("/heard", form)
		assert.Contains(t, a.body, "somebody else types the rows at that gate")
		assert.Equal(t, bibPage(2, 2), cleo.get("/next").path, "the row at gate 9 isn't given")
		page := cleo.get(bibPage(2, 1))
		assert.Contains(t, page.body, "You wrote down or read a call that names a bib at this gate.")
		// A form that is sent all the same is no look, and the log says why.
		cleo.filled(page, map[string][]string{"text": {"4871"}, "how": {"paper"}, "do": {"settle"}})
		cleo.typed(cleo.get(bibPage(2, 2)), "30", "paper")
		st, _ := b.Load()
		assert.Equal(t, sheetmodel.BibOneLook, st.Row(ref(2, 1)).BibState, called)
		assert.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(2, 2)).BibState, called)
		log, err := b.Store.ServedLog(t.Context())
		require.NoError(t, err)
		assert.True(t, slices.ContainsFunc(log, func(v store.Served) bool {
			return v.Person == "Cleo" && v.Reveals && v.What == "heard" && v.Readings[0] == stacktest.Key("Blue", 2, 1, sheetmodel.PartBib)
		}))
		dora.typed(dora.get(bibPage(2, 1)), "4871", "paper")
		st, _ = b.Load()
		assert.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(2, 1)).BibState, called)
	}
}

// Two looks agreed, and a third person reads it otherwise: the line doesn't stand until a further person or the judge is asked.
// Source: our own logic.
func TestEntry_ThirdPersonReadsOtherwise_TheRowIsAQuestionAgain(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 2, stacktest.Row{Bib: "14", Code: "F", Gate: "9"})
	dora := sit(t, open(t, b), "Dora")
	page := dora.get(bibPage(2, 1)) // open before the other settles it
	b.Type("Cleo", stacktest.Key("Blue", 2, 1, sheetmodel.PartBib), "14")
	_, result := b.Load()
	require.False(t, result.Calls[0].Waiting)
	next := dora.typed(page, "44", "paper")
	st, result := b.Load()
	assert.Equal(t, sheetmodel.BibWaiting, st.Row(ref(2, 1)).BibState)
	assert.Empty(t, result.Calls)
	assert.Contains(t, next.body, "It needs a second person, or the judge.")
}

// A lost ski that is only recorded, and whose bib doesn't go with another row, waits for an answer. Its bib isn't shown
// while it may accuse, so the question that names it can't be asked: first somebody types it. Source: our own logic.
func TestAsked_RecordedLostSkiThatDoesNotGoWithAnotherRow_IsTypedFirst(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 2, stacktest.Row{Bib: "14", Code: "P", Gate: "8"})
	b.Card("Blue", 4, stacktest.Row{Bib: "14", Code: "K", Gate: "23"})
	p := sit(t, open(t, b), "Cleo")
	_, result := b.Load()
	require.Equal(t, sheetmodel.StandsWaiting, result.Standings[1].Standing, "who left the course is written below it")
	page := p.get("/next")
	require.Equal(t, bibPage(4, 1), page.path, "or it would wait for ever")
	next := p.typed(page, "14", "paper")
	assert.Contains(t, next.body, "Card 4 row 1: 14 settled, two looks agree.")
	assert.Contains(t, p.get("/questions").body, "14 left the course at gate 8 (card 2 (B2) row 1), but is also written at gate 23")
}
