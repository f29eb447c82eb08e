package review_test

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// Two people type against the machine, one with it: none of them can take another's word away.
func TestUndo_OfAnothersEntry_IsRefused(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	s := open(t, b)
	for name, text := range map[string]string{"Bo": "19", "Cy": "19"} {
		p := sit(t, s, name)
		p.typed(p.get("/entry/"+key), text, "paper")
		p.send("/who", url.Values{"name": {name}}) // who stands up keeps no entry from others
	}
	// Only the judge is asked now; a form posted all the same settles nothing.
	ada := sit(t, s, "Ada")
	ada.typed(ada.get("/entry/"+key), "14", "paper")
	st, _ := b.Load()
	assert.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState)
	ada.send("/undo", url.Values{"decision": {strconv.FormatInt(st.Decisions[0].ID, 10)}})
	st, r := b.Load()
	assert.NotEqual(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState)
	for _, c := range r.Calls {
		assert.True(t, c.Waiting, "a call stands: %+v", c)
	}
}

// The law of the project: whoever types the judge's word is no second person beside it.
func TestEntry_OnePersonTypesAndThenAsks_IsNoTwoLooks(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	s := open(t, b)
	ada := sit(t, s, "Ada")
	ada.typed(ada.get("/entry/"+key), "77", "paper") // ink says clearly 14
	a := ada.get("/entry/" + key)
	sheet := "0"
	if i := strings.Index(a.body, `name="sheet" value="`); i >= 0 {
		sheet = a.body[i+20:]
		sheet = sheet[:strings.IndexByte(sheet, '"')]
	}
	ada.send("/entry/"+key, url.Values{"sheet": {sheet}, "do": {"settle"}, "how": {"asked"}, "text": {"77"}})
	st, r := b.Load()
	assert.NotEqual(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState, "%+v", st.Rows[0].BibSeen.Seen)
	for _, c := range r.Calls {
		assert.True(t, c.Waiting, "a call stands: %+v", c)
	}
}

// Ada sees the draft with 14 settled, the desk is closed and opened again, and she comes back under
// another spelling of her name: she has been told.
func TestEntry_AfterARestartUnderAnotherSpelling_IsNotBlind(t *testing.T) {
	for _, again := range []string{"ada", "A.D.A.", "A\u0301da\u200b", "\u0410da"} {
		b := stacktest.New(t)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
		key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
		b.Type("Bo", key, "14")
		first := open(t, b)
		assert.Contains(t, sit(t, first, "Ada").get("/draft").body, ">14<")
		first.Close()
		second := open(t, b)
		st, _ := b.Load()
		// Bo takes his entry back: it waits again.
		sit(t, second, "Bo").send("/undo", url.Values{"decision": {strconv.FormatInt(st.Decisions[0].ID, 10)}})
		ada := sit(t, second, again)
		assert.Contains(t, ada.get("/").body, "<strong>Ada</strong>", "the spelling that the log knows, for %q", again)
		page := ada.get("/entry/" + key)
		assert.Contains(t, page.body, "You have been shown what was read or typed here.", "%q", again)
		ada.typed(page, "14", "paper")
		st, _ = b.Load()
		assert.False(t, st.Decisions[len(st.Decisions)-1].Blind, "%q", again)
		assert.NotEqual(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState, "%q", again)
	}
}

func TestWho_NameWithoutALetter_IsNone(t *testing.T) {
	s := open(t, stacktest.New(t))
	p := sit(t, s, "Ada")
	status, body := p.post("/who", url.Values{"name": {"\u200b –!"}})
	assert.Equal(t, http.StatusUnprocessableEntity, status, body)
}
