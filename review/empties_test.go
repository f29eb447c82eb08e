package review_test

import (
	"bytes"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// fronts keeps only the front of a card's photo.
func frontOnly(t *testing.T, b *stacktest.Table, card int) {
	t.Helper()
	sheets := b.Sheets("Blue", card)[:1]
	all, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	for _, s := range all {
		if s.Card.Card == card {
			require.NoError(t, b.Store.AddSheets(t.Context(), s.Photo, "reader of the front", sheets))
			return
		}
	}
}

// Cards without rows are looked at in one block; the back of one may be answered from the paper. Neither is a
// fact for the rules. Source: our own logic.
func TestEmpties_OneBlock_BackWithoutAPhoto(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	b.Card("Blue", 2)
	b.Card("Blue", 4)
	frontOnly(t, b, 4)
	p := sit(t, open(t, b), "Cleo")
	_, before := b.Load()
	a := p.get("/")
	assert.Contains(t, a.body, "2 cards to look at")
	assert.NotContains(t, a.body, `name="rows" value="run1/Blue/card-1"`, "it has a row")
	assert.NotContains(t, a.body, `name="back" value="run1/Blue/card-2"`, "its back is in")
	assert.NotRegexp(t, `name="(rows|back)"[^>]*checked`, a.body, "nothing is marked beforehand")
	form := url.Values{}
	for _, m := range regexp.MustCompile(`name="(front-[^"]+)" value="(\d+)"`).FindAllStringSubmatch(a.body, -1) {
		form.Set(m[1], m[2])
	}
	assert.Equal(t, http.StatusUnprocessableEntity, p.send("/empties", form).status, "nothing is marked")
	form["rows"] = []string{"run1/Blue/card-2", "run1/Blue/card-4"}
	form["back"] = []string{"run1/Blue/card-4"}
	a = p.send("/empties", form)
	assert.Contains(t, a.body, "2 cards seen without row ink")
	assert.NotContains(t, a.body, "Cards without rows")
	assert.Contains(t, a.body, "back seen by Cleo, no fault drawn")
	_, after := b.Load()
	assert.Equal(t, before.Calls, after.Calls)
	assert.Equal(t, slices.DeleteFunc(before.Findings, func(f sheetmodel.Finding) bool { return f.Rule == "missing-back" && f.Card.Card == 4 }), after.Findings, "its back alone is known now")

	// A card with a row can't be passed off so, nor its back.
	form = url.Values{"rows": {"run1/Blue/card-1"}, "front-run1/Blue/card-1": {"1"}}
	assert.Equal(t, http.StatusConflict, p.send("/empties", form).status)
	assert.Equal(t, http.StatusConflict, p.send("/back/run1/Blue/card-1", url.Values{"do": {"seen"}}).status)
	// It can be taken back.
	assert.Contains(t, p.get("/card/run1/Blue/card-4").body, "Cleo saw it: no fault is drawn there.")
	p.send("/back/run1/Blue/card-4", url.Values{"do": {"missing"}})
	assert.NotContains(t, p.get("/").body, "back seen by")
}

// Whoever saw no fault drawn on a back saw the front with it that counted then. Another photo of the front says that somebody had the card
// in the hand since: the back is missing until somebody looks at it again. Another reader of the same photo says nothing of the kind.
// Source: our own logic, as for all answers (decision 0006).
func TestEmpties_FrontPhotographedAgain_TheBackIsLookedAtAgain(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 4)
	frontOnly(t, b, 4)
	p := sit(t, open(t, b), "Cleo")
	front := func() string {
		m := regexp.MustCompile(`(?s)action="/back/run1/Blue/card-4".*?name="front" value="(\d+)"`).FindStringSubmatch(p.get("/card/run1/Blue/card-4").body)
		require.NotNil(t, m)
		return m[1]
	}
	before := front()
	require.Equal(t, http.StatusOK, p.send("/back/run1/Blue/card-4", url.Values{"do": {"seen"}, "front": {before}}).status)
	require.Contains(t, p.get("/").body, "back seen by Cleo, no fault drawn")
	frontOnly(t, b, 4) // read anew
	assert.Contains(t, p.get("/").body, "back seen by Cleo, no fault drawn")

	photo, _, err := b.Store.AddPhoto(t.Context(), "again.png", bytes.NewReader([]byte("\xff\xd8\xff again")), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "reader of the front", b.Sheets("Blue", 4)[:1]))
	body := p.get("/").body
	assert.NotContains(t, body, "back seen by Cleo")
	assert.Contains(t, body, "Cleo answered for it before the front was photographed again")
	assert.Equal(t, http.StatusConflict, p.send("/back/run1/Blue/card-4", url.Values{"do": {"seen"}, "front": {before}}).status, "of a page that showed the other photo")
	assert.NotContains(t, p.get("/").body, "back seen by Cleo")
	require.Equal(t, http.StatusOK, p.send("/back/run1/Blue/card-4", url.Values{"do": {"seen"}, "front": {front()}}).status)
	assert.Contains(t, p.get("/").body, "back seen by Cleo, no fault drawn")
}

// A photo taken anew is looked at anew, and a card that has a row by then is no card without rows.
func TestEmpties_NewPhoto_IsLookedAtAnew(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 2)
	p := sit(t, open(t, b), "Cleo")
	stale := p.get("/").body
	front := regexp.MustCompile(`name="front-run1/Blue/card-2" value="(\d+)"`).FindStringSubmatch(stale)
	require.NotNil(t, front)
	form := url.Values{"rows": {"run1/Blue/card-2"}, "front-run1/Blue/card-2": {front[1]}}
	require.Equal(t, http.StatusOK, p.send("/empties", form).status)
	sheets := b.Sheets("Blue", 2, stacktest.Row{Bib: "14", Code: "F", Gate: "9"})
	all, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), all[0].Photo, "a better reader", []store.NewSheet{sheets[0]}))
	assert.NotContains(t, p.get("/").body, "Cards without rows")
	assert.Equal(t, http.StatusConflict, p.send("/empties", form).status)
	st, _ := b.Load()
	assert.Equal(t, sheetmodel.BibOneLook, st.Row(ref(2, 1)).BibState)
}
