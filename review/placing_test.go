package review_test

import (
	"errors"
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// saved is what a phone had written into the race's files.
type saved struct {
	run    int
	course string
	place  sheetmodel.Place
	gone   bool
}

func placingHut(t *testing.T, all *[]saved, fault error) *hut {
	return openHut(t, stacktest.New(t), func(o *review.Options) {
		o.SavePlace = func(run int, course string, p sheetmodel.Place, gone bool) error {
			if fault == nil {
				*all = append(*all, saved{run, course, p, gone})
			}
			return fault
		}
	})
}

func TestPlacing_AFewTaps_NameWhoStandsWhere(t *testing.T) {
	var all []saved
	p := placingHut(t, &all, nil).pair("Ida", "photos")
	page := p.get("/placing?run=1&course=Blue").body
	assert.Contains(t, page, `name="card" value="7"`, "after the last one")
	assert.Contains(t, page, "Trude Larchbroom")
	place := func(pairs ...string) answer {
		return p.send("/placing", formOf(append([]string{"run", "1", "course", "Blue", "do", "place"}, pairs...)...))
	}
	a := place("card", "6", "from", "29", "to", "31", "judge", " Ada\u202e  Fir ", "phone", "555 0199")
	assert.Contains(t, a.body, "Card 6 watches gates 29–31.")
	place("card", "6", "from", "29", "to", "31", "gates", "3-4, 9")
	place("card", "6", "from", "29", "to", "")
	p.send("/placing", formOf("run", "1", "course", "Blue", "do", "remove", "card", "6"))
	assert.Equal(t, []saved{
		{1, "Blue", sheetmodel.Place{Card: 6, Gates: []string{"29", "30", "31"}, Judge: "Ada Fir", Phone: "555 0199"}, false},
		{1, "Blue", sheetmodel.Place{Card: 6, Gates: []string{"3", "4", "9"}}, false},
		{1, "Blue", sheetmodel.Place{Card: 6, Gates: []string{"29"}}, false},
		{1, "Blue", sheetmodel.Place{Card: 6}, true},
	}, all)
}

func TestPlacing_Mistakes_AreSaidAndNothingIsKept(t *testing.T) {
	var all []saved
	h := placingHut(t, &all, nil)
	p := h.pair("Ida", "photos")
	for _, form := range []url.Values{
		formOf("card", "x", "from", "1"), formOf("card", "0", "from", "1"), formOf("card", "201", "from", "1"), formOf("card", "6", "from", "99"), formOf("card", "6", "from", "9", "to", "3"), formOf("card", "6"),
	} {
		form.Set("run", "1")
		form.Set("course", "Blue")
		form.Set("judge", "Ada Fir")
		a := p.send("/placing", form)
		assert.Equal(t, http.StatusUnprocessableEntity, a.status, form)
		assert.Contains(t, a.body, `value="Ada Fir"`, "what was typed stays")
	}
	assert.Equal(t, http.StatusNotFound, p.send("/placing", formOf("run", "9", "course", "Blue", "card", "6", "from", "1")).status)
	assert.Empty(t, all)
	q := placingHut(t, &all, errors.New("race.yaml:4: it has a mistake; mend it")).pair("Ida", "settle")
	a := q.send("/placing", formOf("run", "1", "course", "Blue", "card", "6", "from", "1"))
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, "it has a mistake; mend it")
	assert.NotContains(t, h.pair("Vic", "view").get("/").body, "/placing")
}

// A place of several stretches opens as such: saved again, it stays what it was.
func TestPlacing_SeveralStretches_StayWhatTheyAre(t *testing.T) {
	var all []saved
	h := placingHut(t, &all, nil)
	h.table.Race.Run(1).Course("Blue").Places[5].Gates = []string{"3", "4", "9"}
	body := h.pair("Ida", "photos").get("/placing?run=1&course=Blue&card=6").body
	require.Contains(t, body, `name="gates" value="3-4, 9"`)
	assert.Contains(t, body, "Nobody stands here with it")
}
